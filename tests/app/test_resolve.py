"""From what was typed to an order, or one sentence why not."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
import rfc8785
from hypothesis import given, settings
from hypothesis import strategies as st

from mixer.app.files.confirm import confirm
from mixer.app.files.profiles import load_cup, load_resin, load_scale
from mixer.app.request import Request
from mixer.app.resolve import Refused, resolve
from mixer.pour.facts import Opened
from mixer.pour.plain import from_plain, to_plain

ASKED = Request(resin="sample-36", size="60 g", port="sim:")


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "confirmed.json"


def refusal(request: Request, store: Path | None = None) -> str:
    with pytest.raises(Refused) as caught:
        resolve(request, store=store)
    sentence = str(caught.value)
    assert sentence.isprintable()
    return sentence


def test_the_least_that_can_be_asked() -> None:
    order = resolve(ASKED)
    assert order.terms.size_ug == 60_000_000
    assert order.terms.cup_most_ug is None
    assert order.terms.stir_ms == load_resin("sample-36").stir_s * 1000
    assert order.terms.scale_most_ug == load_scale("sma").capacity_ug
    assert order.simulated
    assert order.about["bench"] == "simulated"
    assert order.about["cup_name"] is order.about["dew_point_c"] is order.about["air_c"] is None


def test_all_that_was_said_is_kept_and_can_be_written() -> None:
    order = resolve(
        replace(
            ASKED, cup="paper-300", air="25 degC", rh="50%", resin_temp="21 degC", stir="5s",
            surface="15 degC",
            operator="AB", layup="wing", plies="1-4", resin_lot="R1", hardener_lot="H1",
        )
    )  # fmt: skip
    about = order.about
    # The dew point of 25 degC and 50 % is 13.9 degC (see the checks of the formula).
    assert (about["air_c"], about["rh_pct"], about["dew_point_c"]) == (25.0, 50.0, 13.9)
    assert (about["surface_c"], about["dew_margin_c"]) == (15.0, 1.1)
    assert (about["resin_c"], order.terms.stir_ms, about["plies"]) == (21.0, 5000, "1-4")
    assert isinstance(about["pot_life"], dict)
    assert about["profile"]["cup"]["name"] == "paper-300"
    opened = Opened(1, order.terms, about)
    assert rfc8785.dumps(to_plain(opened))
    assert from_plain("opened", 1, to_plain(opened)) == opened


@pytest.mark.parametrize("plies", ["1", "1-4", "2, 5-7", "12 - 14,20"])
def test_plies_are_kept_as_they_were_said(plies: str) -> None:
    assert resolve(replace(ASKED, plies=plies)).about["plies"] == plies


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"size": "0 g"}, "above zero"),
        ({"size": "-5 g"}, "size: '-5 g'"),
        ({"size": "60"}, "no unit"),
        ({"size": "nan g"}, "size: 'nan g'"),
        ({"size": "60 cm"}, "is a length"),
        ({"rh": "101%"}, "rh: '101%'"),
        ({"rh": "0%"}, "rh: '0%' is air without any water, which has no dew point; give what"),
        ({"rh": "0.0004%"}, "above 0 and up to 100 %"),
        ({"air": "22"}, "air: '22' has no unit"),
        ({"air": "72 degC"}, "not within -10 to 60 degC"),
        ({"resin_temp": "-11 degC"}, "not within -10 to 60 degC"),
        ({"surface": "150 degF"}, "not within -10 to 60 degC"),
        ({"stir": "0 s"}, "1 s and 1 h"),
        ({"stir": "2 h"}, "1 s and 1 h"),
        ({"resin": "no-such-resin"}, "no-such-resin"),
        ({"scale": "no-such-scale"}, "no-such-scale"),
        ({"cup": "no-such-cup"}, "no-such-cup"),
        ({"operator": "A\nB"}, "operator"),
        ({"layup": "\udcff"}, "layup"),  # a byte of the command line that is no UTF-8
        ({"plies": "0"}, "plies: '0'"),
        ({"plies": "4-1"}, "such as 1-4 or 2, 5-7"),
        ({"plies": "a"}, "plies: 'a'"),
        ({"plies": ""}, "plies"),
        ({"plies": "1-"}, "plies"),
        ({"plies": "1, 2-3-4"}, "plies"),
        ({"plies": "9" * 600}, "plies"),
        ({"hardener_lot": "x" * 501}, "hardener-lot"),
        ({"left": "9g"}, "left: '9g' was read; give NAME=MASS such as resin=900g"),
        ({"left": "resin=0g"}, "left: of resin nothing is left"),
        ({"left": "resin=0.5g"}, "the resin is not enough for a batch; begin with a fresh lot"),
        ({"left": "resin=5g"}, "give up to 6.8 g"),  # 136 / 100 of it
        ({"left": "resin=30g"}, "takes more resin than is left; give up to 40.8 g"),
    ],
)
def test_a_slip_is_one_sentence(change: dict[str, str], said: str) -> None:
    assert said in refusal(replace(ASKED, **change))


@pytest.mark.parametrize("cup", [None, "paper-150", "paper-300", "plastic-500"])
def test_the_most_that_is_offered_is_accepted_and_no_more(cup: str | None) -> None:
    request = replace(ASKED, cup=cup, size="900 kg")
    offered = refusal(request).split("give up to ")[1].removesuffix(".")
    order = resolve(replace(request, size=offered))
    more_g = float(offered.removesuffix(" g")) + 0.1001
    assert "give up to" in refusal(replace(request, size=f"{more_g:.4f} g"))
    cup_ug = load_cup(cup).mass_ug if cup else 0
    assert order.terms.scale_most_ug is not None
    assert order.terms.size_ug + cup_ug <= order.terms.scale_most_ug


@settings(max_examples=30, deadline=None)
@given(st.floats(2, 500), st.floats(2, 500))
def test_what_is_left_of_the_lots_is_never_passed(resin_g: float, hardener_g: float) -> None:
    left = f"resin={resin_g:.1f}g; hardener={hardener_g:.1f}g"
    request = replace(ASKED, size="900 g", left=left)
    most_g = min(1.36 * round(resin_g, 1), 1.36 / 0.36 * round(hardener_g, 1))
    if most_g >= 900.1:
        assert resolve(request).terms.size_ug == 900_000_000
    elif most_g < 899.9:
        offered = refusal(request).split("give up to ")[1].split(",")[0]
        assert most_g - 0.1 - 1e-6 <= float(offered.removesuffix(" g")) <= most_g + 1e-6
        assert resolve(replace(request, size=offered))


def test_a_resin_is_confirmed_before_a_real_port(store: Path) -> None:
    real = replace(ASKED, port="/dev/ttyUSB0")
    sentence = refusal(real, store)
    assert "cupside resin confirm sample-36 --ratio A:B --by weight|volume" in sentence
    assert resolve(ASKED, store=store).simulated
    confirm(load_resin("sample-36"), "100:36", "weight", store, datetime.now(UTC))
    order = resolve(real, store=store)
    assert not order.simulated
    assert order.about["bench"] == "real"
    assert "A:B:C --by" in refusal(replace(real, resin="sample-blend"), store)


def test_nothing_stands_behind_the_simulated_bench() -> None:
    said = refusal(replace(ASKED, port="sim:/dev/ttyUSB0"))
    assert said == "port: 'sim:/dev/ttyUSB0' was read; the simulated bench is sim: alone."


def test_a_damaged_store_confirms_nothing_and_says_so(store: Path) -> None:
    store.write_text("{")
    assert "is damaged" in refusal(replace(ASKED, port="/dev/ttyUSB0"), store)


@given(st.text(max_size=60), st.text(max_size=60), st.text(max_size=60))
def test_whatever_is_typed_is_an_order_or_a_sentence(size: str, rh: str, operator: str) -> None:
    sentence = ""
    try:
        order = resolve(replace(ASKED, size=size, rh=rh, operator=operator))
        assert rfc8785.dumps(to_plain(Opened(0, order.terms, order.about)))
    except Refused as refused:
        sentence = str(refused)
    assert sentence.isprintable()
