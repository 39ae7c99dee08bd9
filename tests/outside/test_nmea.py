"""NMEA logs and sentences of others: every checksum counted as their source states it, positions to the last digit."""

from __future__ import annotations

from pathlib import Path

import pytest

from standmap.errors import UserError
from standmap.formats.door import read
from standmap.formats.nmea_fixes import NmeaFix, NmeaStream
from standmap.formats.nmea_sentences import checksum

LOGS = Path(__file__).parent.parent / "data" / "nmea"


@pytest.mark.parametrize(
    ("body", "told"),
    [
        # Widely used examples, as carried by the tests of several parsers.
        ("GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,", 0x47),
        ("GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W", 0x6A),
        # Sentences from memory, their checksums worked out by hand.
        ("GPGLL,4916.45,N,12311.12,W,225444,A", 0x31),
        ("GPGGA,184353.07,1929.045,S,02410.506,E,1,04,2.6,100.00,M,-33.9,M,,0000", 0x6D),
    ],
)
def test_checksums(body: str, told: int) -> None:
    assert checksum(body.encode()) == told


def test_the_two_well_known_sentences_are_one_fix() -> None:
    stream = NmeaStream()
    events = stream.feed(
        b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n"
        b"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\r\n"
    )
    (fix,) = [*events, *stream.close()]
    assert isinstance(fix, NmeaFix)
    assert fix.lat == pytest.approx(48.1173, abs=1e-9)
    assert fix.lon == pytest.approx(11.516667, abs=5e-7)
    assert fix.time_s == 764426119  # 1994-03-23 12:35:19 UTC


@pytest.mark.parametrize(
    ("name", "good", "wrong"),
    [
        ("pygpsdata-mixed.log", 15, 0),
        ("pygpsdata-nmea4.log", 57, 0),
        ("pygpsdata-nmea4sm.log", 8, 0),
        ("pygpsdata-nmeabadck.log", 1, 2),
    ],
)
def test_sentences_of_a_log(name: str, good: int, wrong: int) -> None:
    stream = NmeaStream()
    stream.feed((LOGS / name).read_bytes())
    stream.close()
    counts = stream.sentences.counts
    assert (counts.good, counts.bad_checksum, counts.no_checksum, counts.malformed) == (good, wrong, 0, 0)


def test_a_log_with_binary_messages_is_a_walk() -> None:
    found = read(LOGS / "pygpsdata-mixed.log")
    assert found.format == "nmea"
    (walk,) = found.walks
    assert len(walk.fixes) == 2
    assert not walk.fixes.timed  # GGA alone tells no day
    assert any("no sentence tells the day" in text for text in found.told)


def test_a_moment_outvotes_the_sentence_that_contradicts_it() -> None:
    stream = NmeaStream()
    events = stream.feed((LOGS / "pygpsdata-nmea4.log").read_bytes()) + stream.close()
    (fix,) = events
    assert isinstance(fix, NmeaFix)
    assert fix.lon == pytest.approx(-(2 + 14.42462 / 60), abs=1e-9)  # one RMC of that moment says 102 degrees
    assert (fix.sigma_n_m, fix.sigma_e_m) == (15.0, 24.0)  # GST: latitude, then longitude
    assert stream.moments.outvoted == 1


def test_a_start_without_a_fix_is_refused_with_what_to_do() -> None:
    with pytest.raises(UserError, match=r"pygpsdata-nmeastartup\.log: holds no usable fix .*open sky"):
        read(LOGS / "pygpsdata-nmeastartup.log")
