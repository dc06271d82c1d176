from __future__ import annotations

import pytest

from jobs.planning.readiness import may_start


def reasons(**more: object) -> tuple[str, ...]:
    asked = {
        "nature": "attended",
        "unfinished": (),
        "gates_open": (),
        "held": None,
        "cancelled": False,
        "done": False,
        "early": False,
        **more,
    }
    return may_start(**asked)  # type: ignore[arg-type]


def test_nothing_in_the_way() -> None:
    assert reasons() == ()


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"unfinished": ["Cutting"]}, "It cannot be worked on before Cutting is finished."),
        (
            {"unfinished": ["Cutting", "Beveling", "Polishing"], "nature": "cure"},
            "It cannot begin to cure before Cutting, Beveling and Polishing are finished.",
        ),
        (
            {"gates_open": ["drawing approved", "glass in"], "nature": "outside"},
            "It cannot go out yet, still to come: drawing approved and glass in.",
        ),
        ({"held": "customer on holiday"}, "It is held: customer on holiday."),
        ({"held": ""}, "It is held."),
        ({"cancelled": True, "held": "x"}, "The job is cancelled."),
        ({"done": True}, "It is finished already."),
    ],
)
def test_each_reason_in_a_sentence(more: dict[str, object], sentence: str) -> None:
    assert reasons(**more) == (sentence,)


def test_every_reason_is_given() -> None:
    assert len(reasons(unfinished=["Cutting"], gates_open=["glass in"], held="a crack")) == 3


def test_early_waives_what_comes_before_but_no_hold() -> None:
    assert reasons(unfinished=["Cutting"], gates_open=["glass in"], early=True) == ()
    assert reasons(unfinished=["Cutting"], held="a crack", early=True) == ("It is held: a crack.",)
    assert reasons(early=True, done=True) == ("It is finished already.",)


def test_a_nature_that_is_none() -> None:
    with pytest.raises(ValueError, match="magic"):
        reasons(nature="magic")
