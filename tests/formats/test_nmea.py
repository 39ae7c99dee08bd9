"""Logs of receivers: sentences out of any bytes, fixes of one moment, days, gaps, and what could not be used."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.formats.accuracy import METRES_PER_HDOP
from standmap.formats.door import read
from standmap.formats.nmea import read_nmea
from standmap.formats.nmea_fixes import NmeaEvent, NmeaFix, NmeaStream, NoFix
from tests.nmea_logs import moment, sentence, standing

MORNING = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
LON, LAT = 29.7636, 62.601


def heard(*pieces: bytes) -> tuple[list[NmeaEvent], NmeaStream]:
    stream = NmeaStream()
    events = [event for piece in pieces for event in stream.feed(piece)]
    return events + stream.close(), stream


def fixes(*pieces: bytes) -> list[NmeaFix]:
    return [e for e in heard(*pieces)[0] if isinstance(e, NmeaFix)]


def log(path: Path, *pieces: bytes) -> Path:
    path.write_bytes(b"".join(pieces))
    return path


def test_one_moment_is_one_fix_with_what_each_sentence_tells() -> None:
    (fix,) = fixes(moment(MORNING, LON, LAT, sigma_m=2.5))
    assert (fix.lon, fix.lat) == pytest.approx((LON, LAT), abs=1e-8)
    assert fix.time_s == MORNING.timestamp()
    assert (fix.sigma_e_m, fix.sigma_n_m, fix.by_gst, fix.satellites, fix.elevation_m) == (2.5, 2.5, True, 9, 101.0)


def test_hdop_is_a_factor_and_its_accuracy_an_assumption() -> None:
    (fix,) = fixes(moment(MORNING, LON, LAT, sigma_m=None))
    assert fix.sigma_m == pytest.approx(0.9 * METRES_PER_HDOP)
    assert not fix.by_gst


def test_hdop_of_gsa_counts_where_gga_is_missing() -> None:
    rmc = sentence("GPRMC,073000,A,6236.06,N,02945.8,E,0.0,,280326,,,A")
    (fix,) = fixes(rmc, sentence("GPGSA,A,3,01,02,03,,,,,,,,,,2.0,1.2,1.6"))
    assert fix.sigma_m == pytest.approx(1.2 * METRES_PER_HDOP)


@pytest.mark.parametrize("talker", ["GP", "GN", "GL", "GA", "GB", "GQ", "IN"])
def test_any_talker(talker: str) -> None:
    (fix,) = fixes(sentence(f"{talker}GGA,073000,6236.06,N,02945.8,E,1,07,1.1,90.0,M,17.0,M,,"))
    assert (fix.lon, fix.lat) == pytest.approx((29.763333, 62.601), abs=1e-6)


def test_south_and_west_are_negative() -> None:
    (fix,) = fixes(sentence("GPGGA,073000,0130.0,S,07015.0,W,1,07,1.1,90.0,M,17.0,M,,"))
    assert (fix.lon, fix.lat) == (-70.25, -1.5)


@pytest.mark.parametrize(
    "body",
    [
        "GPGGA,073000,6236.06,N,02945.8,E,0,00,99.9,,,,,,",
        "GPRMC,073000,V,6236.06,N,02945.8,E,,,280326,,,N",
        "GPRMC,,V,,,,,,,,,,N",
        "GNGNS,073000,,,,,NN,00,,,,,",
        "GPGLL,,,,,,V,N",
    ],
)
def test_no_fix_is_told_and_gives_none(body: str) -> None:
    (event,) = heard(sentence(body))[0]
    assert isinstance(event, NoFix)


@pytest.mark.parametrize("quality", ["6", "7", "8"])
def test_what_was_not_measured_is_left_out(quality: str) -> None:
    events, stream = heard(sentence(f"GPGGA,073000,6236.06,N,02945.8,E,{quality},07,1.1,90.0,M,17.0,M,,"))
    assert (events, stream.moments.not_measured) == ([], 1)


@pytest.mark.parametrize(
    "body",
    [
        "GPGGA,073000,6266.06,N,02945.8,E,1,07,1.1,90.0,M,17.0,M,,",
        "GPGGA,073000,9136.06,N,02945.8,E,1,07,1.1,90.0,M,17.0,M,,",
        "GPGGA,073000,abc,N,02945.8,E,1,07,1.1,90.0,M,17.0,M,,",
        "GPGGA,073000,6236.06,X,02945.8,E,1,07,1.1,90.0,M,17.0,M,,",
        "GPGGA,253000,6236.06,N,02945.8,E,1,07,1.1,90.0,M,17.0,M,,",
        "GPGGA,073000,6236.06,N,02945.8,E,1,07,wide,90.0,M,17.0,M,,",
        "GPRMC,073000,A,6236.06,N,02945.8,E,0.0,,310226,,,A",
    ],
)
def test_a_garbled_sentence_is_counted_and_skipped(body: str) -> None:
    events, stream = heard(sentence(body), moment(MORNING, LON, LAT))
    assert len(events) == 1
    assert (stream.sentences.counts.malformed, stream.sentences.counts.good) == (1, 3)


def test_what_is_between_sentences_is_passed_over() -> None:
    good = moment(MORNING, LON, LAT)
    binary = bytes(range(256)) + b"$$\xb5b\x01\x07$GP"
    ais = b"!AIVDM,1,1,,A,13u?etPv2;0n:dDPwUM1U1Cb069D,0*24\r\n"
    events, stream = heard(binary, ais, good.replace(b"\r\n", b"") + binary, ais)
    assert len(events) == 1
    assert stream.sentences.counts.good == 3


def test_a_sentence_cut_off_or_without_a_checksum_is_counted() -> None:
    events, stream = heard(b"$GPGGA,0730", moment(MORNING, LON, LAT), b"$GPGGA,073000,6236.06,N\r\n")
    counts = stream.sentences.counts
    assert (len(events), counts.malformed, counts.no_checksum, counts.good) == (1, 1, 1, 3)


def test_two_positions_of_one_moment_that_disagree_give_none() -> None:
    events, stream = heard(
        sentence("GPGGA,073000,6236.06,N,02945.8,E,1,07,1.1,90.0,M,17.0,M,,"),
        sentence("GPRMC,073000,A,6336.06,N,02945.8,E,0.0,,280326,,,A"),
    )
    assert (events, stream.moments.disagreeing) == ([], 1)


def test_a_position_across_the_antimeridian_is_one() -> None:
    first = sentence("GPGGA,073000,0100.0,N,17959.9999,E,1,07,1.1,90.0,M,17.0,M,,")
    assert len(fixes(first, sentence("GPRMC,073000,A,0100.0,N,17959.9999,W,0.0,,280326,,,A"))) == 1


# Days


def test_midnight_passes_where_only_gga_tells_the_time(tmp_path: Path) -> None:
    evening = datetime(2026, 12, 31, 23, 59, 58, tzinfo=UTC)
    dated = moment(evening, LON, LAT)
    after = [moment(evening + timedelta(seconds=s), LON, LAT, dated=False) for s in range(1, 5)]
    walk = read(log(tmp_path / "night.log", dated, *after)).walks[0]
    np.testing.assert_allclose(walk.fixes.time_s, evening.timestamp() + np.arange(5))


def test_moments_before_the_first_date_are_dated_back(tmp_path: Path) -> None:
    evening = datetime(2026, 2, 28, 23, 59, 58, tzinfo=UTC)
    before = [moment(evening + timedelta(seconds=s), LON, LAT, dated=False) for s in range(4)]
    dated = moment(evening + timedelta(seconds=4), LON, LAT)
    walk = read(log(tmp_path / "night.log", *before, dated)).walks[0]
    np.testing.assert_allclose(walk.fixes.time_s, evening.timestamp() + np.arange(5))


def test_the_day_of_zda_counts() -> None:
    gga = sentence("GPGGA,073000,6236.06,N,02945.8,E,1,07,1.1,90.0,M,17.0,M,,")
    (fix,) = fixes(gga, sentence("GPZDA,073000,28,03,2026,00,00"))
    assert fix.day == date(2026, 3, 28)


def test_a_sentence_out_of_order_about_midnight_is_of_the_day_before() -> None:
    evening = datetime(2026, 3, 28, 23, 59, 58, tzinfo=UTC)
    order = [0, 3, 1, 4]
    told = [moment(evening + timedelta(seconds=s), LON, LAT, dated=s == 0) for s in order]
    assert [f.time_s - evening.timestamp() for f in fixes(*told)] == order


def test_a_log_without_a_day_is_said_and_kept_untimed_or_dated_as_given(tmp_path: Path) -> None:
    path = log(tmp_path / "gga.log", *(moment(MORNING + timedelta(seconds=s), LON, LAT, dated=False) for s in range(3)))
    found = read_nmea(path)
    assert not found.walks[0].fixes.timed
    assert any("no sentence tells the day" in text for text in found.told)
    dated = read_nmea(path, day=MORNING.date())
    np.testing.assert_allclose(dated.walks[0].fixes.time_s, MORNING.timestamp() + np.arange(3))
    assert any("as given" in text for text in dated.told)


# The file


def test_a_silence_and_a_lost_fix_break_the_walk(tmp_path: Path) -> None:
    times = [0, 1, 2, 100, 101]
    pieces = [moment(MORNING + timedelta(seconds=s), LON, LAT) for s in times]
    pieces.insert(2, sentence("GNGGA,073001.50,,,,,0,00,99.99,,,,,,"))
    walk = read(log(tmp_path / "gaps.log", *pieces)).walks[0]
    assert walk.fixes.segment.tolist() == [0, 0, 1, 2, 2]


def test_what_was_left_out_is_told_with_its_count(tmp_path: Path) -> None:
    good = moment(MORNING, LON, LAT) + moment(MORNING + timedelta(seconds=1), LON, LAT)
    wrong = b"$GPGGA,073000,6236.06,N,02945.8,E,1,07,1.1,90.0,M,17.0,M,,*00\r\n"
    found = read(log(tmp_path / "some.log", *[wrong] * 14, good))
    assert "14 sentences with a wrong checksum were left out" in found.told
    assert (found.format, found.read, len(found.walks[0].fixes)) == ("nmea", 2, 2)


def test_one_fix_is_no_walk_and_is_said(tmp_path: Path) -> None:
    found = read(log(tmp_path / "one.log", moment(MORNING, LON, LAT)))
    assert (found.walks, found.skipped[0].why) == ((), "has 1 usable fix; a walk needs two")


def test_a_log_without_a_fix_is_refused_with_what_to_do(tmp_path: Path) -> None:
    path = log(tmp_path / "none.log", sentence("GPRMC,,V,,,,,,,,,,N"))
    with pytest.raises(UserError, match=r"^none\.log: holds no usable fix \(1 moment without a fix"):
        read(path)


@pytest.mark.parametrize(
    "before",
    [b"", b"\r\n\r\n", b"!AIVDM,1,1,,A,13u?etPv2;0n:dDPwUM1U1Cb069D,0*24\r\n", b"\xb5b\x00\x01" * 3000, b"# my log\n"],
)
def test_the_door_tells_a_log_by_its_content(tmp_path: Path, before: bytes) -> None:
    path = log(tmp_path / "log.csv", before, standing(MORNING, LON, LAT, 3))
    assert read(path).format == "nmea"


def test_a_table_with_dollars_is_no_log(tmp_path: Path) -> None:
    path = log(tmp_path / "t.csv", b'name,lon,lat,note\nB1,29.76,62.6,"cost $GPGGA,5*00"\n')
    assert read(path).format == "csv"


# Whatever the bytes

BODIES = st.one_of(
    st.sampled_from(
        [
            moment(MORNING, LON, LAT),
            moment(MORNING + timedelta(seconds=1), LON, LAT, dated=False),
            sentence("GPRMC,,V,,,,,,,,,,N"),
            b"$GPGGA,0730",
            b"$",
            b"*",
            b"$GPGGA,073000*0",
        ]
    ),
    st.binary(max_size=30),
    st.text("$*,GPRMCA0123456789.NEVSW-\r\n", max_size=60).map(lambda text: sentence(f"GPGGA,{text}")),
    st.lists(st.text("0123456789.NSEWAV-", max_size=9), max_size=15).map(
        lambda cells: sentence(f"GNRMC,{','.join(cells)}")
    ),
    st.lists(st.text("0123456789.NSEWAV-", max_size=9), max_size=15).map(
        lambda cells: sentence(f"GNGGA,{','.join(cells)}")
    ),
    st.lists(st.text("0123456789.-", max_size=9), max_size=9).map(lambda cells: sentence(f"GNGST,{','.join(cells)}")),
    st.lists(st.text("0123456789.-", max_size=9), max_size=9).map(lambda cells: sentence(f"GNZDA,{','.join(cells)}")),
)


@given(pieces=st.lists(BODIES, max_size=12), cuts=st.lists(st.integers(1, 40), max_size=30))
@settings(deadline=None, max_examples=250)
def test_however_a_stream_is_cut_it_tells_the_same(pieces: list[bytes], cuts: list[int]) -> None:
    whole = b"".join(pieces)
    at, parts = 0, []
    for cut in cuts:
        parts.append(whole[at : at + cut])
        at += cut
    parts.append(whole[at:])
    (one, first), (other, second) = heard(whole), heard(*parts)
    assert repr(one) == repr(other)
    assert (first.sentences.counts, first.moments) == (second.sentences.counts, second.moments)
    for event in one:
        if isinstance(event, NmeaFix):
            assert abs(event.lon) <= 180
            assert abs(event.lat) <= 90
            assert not math.isinf(event.sigma_m)


@given(pieces=st.lists(BODIES, max_size=8))
@settings(deadline=None, max_examples=150)
def test_any_bytes_give_findings_or_one_line(tmp_path_factory: pytest.TempPathFactory, pieces: list[bytes]) -> None:
    path = tmp_path_factory.getbasetemp() / "some.log"
    path.write_bytes(b"".join(pieces))
    for reader in (read, read_nmea):
        said = ""
        try:
            reader(path)
        except UserError as refusal:
            said = str(refusal)
        assert not said or (said.startswith("some.log") and said.isprintable())
