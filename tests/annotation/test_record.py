from __future__ import annotations

import threading
from datetime import datetime

import pytest

from stavelight.annotation import record
from stavelight.annotation.record import new_id, utc_now

# Douglas Crockford, Base 32, 2002: ten digits and the letters without I, L, O and U.
CROCKFORD = "0123456789ABCDEFGHJKMNPQRSTVWXYZ".lower()


def test_ids_are_short_and_of_crockfords_letters():
    made = new_id()
    assert len(made) == 16
    assert set(made) <= set(CROCKFORD)


def test_ids_of_one_process_are_unique_and_sort_by_making():
    made = [new_id() for _ in range(10_000)]
    assert made == sorted(set(made))


def test_ids_are_unique_across_threads():
    made: list[str] = []
    threads = [
        threading.Thread(target=lambda: made.extend([new_id() for _ in range(500)]))
        for _ in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(set(made)) == 8 * 500


def test_an_id_begins_with_its_milliseconds(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(record, "_ids", record._IdSource())
    monkeypatch.setattr(record.time, "time_ns", lambda: 1_935_439_200_123 * 1_000_000)
    value = 0
    for letter in new_id()[:10]:
        value = value * 32 + CROCKFORD.index(letter)
    assert value == 1_935_439_200_123


def test_ids_grow_even_when_the_clock_is_set_back(monkeypatch: pytest.MonkeyPatch):
    first = new_id()
    monkeypatch.setattr(record.time, "time_ns", lambda: 0)
    assert new_id() > first


def test_now_is_iso_8601_in_utc():
    moment = datetime.fromisoformat(utc_now())
    assert moment.utcoffset() is not None
    assert moment.utcoffset().total_seconds() == 0
    assert utc_now().endswith("Z")
