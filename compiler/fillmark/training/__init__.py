"""Who may run a method: the assessment of a filled form, levels that lapse, packs for trainees."""
