"""x"""
def conditioning_chart(*a): return None
def temperature_chart(*a): return None
