"""Several processes at one piece of work."""

import os
import time
from functools import partial

import pytest

from fillmark.workers import Crew, WorkerFailedError, WorkerLostError, cores


def square(piece):
    return piece * piece, os.getpid()


def refuse(piece):
    raise PermissionError(13, "Permission denied", f"file {piece}")


def fail(piece):
    return 1 / (piece - piece)


def die(piece):
    os._exit(7)


def slow(folder, piece):
    time.sleep(0.2 if piece else 30)
    (folder / str(piece)).touch()
    return piece


@pytest.mark.parametrize("start", ["fork", "spawn"])
def test_every_piece_is_done_once(start):
    done = list(Crew(square, 2, start=start).each(9))
    assert {n: n * n for n in range(9)} == {n: outcome for n, (outcome, _) in done}
    assert 9 == len(done)
    assert os.getpid() not in {process for _, (_, process) in done}


def test_no_more_processes_than_asked_for_and_than_pieces():
    assert len({p for _, (_, p) in Crew(square, 3).each(30)}) <= 3
    assert len({p for _, (_, p) in Crew(square, 8).each(2)}) <= 2
    assert [] == list(Crew(square, 2).each(0))


def test_a_worker_gives_way_to_a_fresh_one_after_so_many_pieces():
    done = list(Crew(square, 2, renewed_after=2).each(9))
    assert {n: n * n for n in range(9)} == {n: outcome for n, (outcome, _) in done}
    by_process = [process for _, (_, process) in done]
    assert 2 == max(by_process.count(p) for p in set(by_process))


def test_what_the_system_refuses_is_raised_as_it_is():
    with pytest.raises(PermissionError, match="Permission denied: 'file 0'"):
        list(Crew(refuse, 1).each(1))


def test_a_fault_of_ours_comes_with_the_trace_of_the_worker():
    with pytest.raises(WorkerFailedError, match=r"in fail(.|\n)*ZeroDivisionError"):
        list(Crew(fail, 2).each(3))


def test_a_worker_that_ends_by_itself_is_told():
    with pytest.raises(WorkerLostError, match="exit code 7"):
        list(Crew(die, 2).each(3))


def test_whoever_stops_asking_leaves_no_worker(tmp_path):
    crew = Crew(partial(slow, tmp_path), 2)
    asked = crew.each(50)
    piece, _ = next(asked)
    assert 0 != piece
    workers = [w.process for w in crew._workers]
    asked.close()
    assert [False, False] == [w.is_alive() for w in workers]
    assert not (tmp_path / "0").exists()


def test_there_is_at_least_one_processor():
    assert cores() >= 1
