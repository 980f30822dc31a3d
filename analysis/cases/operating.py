"""What an operator did, judged by stated rules; the last exam of a session is what counts.

- Set-up (3 points): the fault was put right before the exam that counts began; 1 if during it; each
  needless mending costs 1.
- The word (3): what this habit needs was said before `IN_TIME` presentations after the exam's own
  advice, or, where it gave none, within `IN_TIME` of the start; 1 if said later. A careful person
  needs none: 3.
- Restraint (2): each word or rest that was not called for costs 1, the first is free.
- Next step (2): what the result that came of it calls for. A habit that was put right only after
  half of the exam that counts still spoils it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from analysis.cases.marking import Marked, Score
from analysis.cases.questions import FAULT, NEXT, next_step
from analysis.cases.truth import Truth
from protocols.cases.habits import REMEDY, WORDS, Habit, habit_of, told
from protocols.cases.play import Attempt, Mark, Played
from protocols.cases.setups import NoFault
from protocols.errors import InputError
from protocols.events import Advised, AnsweredLine

IN_TIME = 12
"""Presentations; about twenty seconds."""
CONCERN: Mapping[str, tuple[str, ...]] = {
    "press": ("press_only_when_seen", "unusable_presses"),
    "look": ("look_at_mark", "unusable_gaze"),
    "stay": ("stay_attentive", "unusable_attention"),
    "rest": ("stay_attentive", "unusable_attention"),
    "quick": (),
}
FREE_WORDS = 1


def judge_operator(truth: Truth, played: Played, step: str) -> Score:
    """Points of a session; `step` is the next step that was chosen. Raises InputError."""
    allowed = [key for key, _ in NEXT]
    if step not in allowed:
        raise InputError("next step", step, ", ".join(allowed), "Choose one of them.")
    if not any(attempt.state.index for attempt in played.attempts):
        raise InputError(
            "exam", "nothing was shown yet", "an exam that has begun", "Run it, then decide."
        )
    marks = [
        _set_up(truth, played), _word(truth, played), _restraint(truth, played),
        _step(truth, played, step),
    ]  # fmt: skip
    return Score(sum(mark.points for mark in marks), sum(mark.of for mark in marks), marks)


def _mended(played: Played) -> Mark | None:
    return next((mark for mark in played.marks if mark.useful), None)


def _in_time(mended: Mark, played: Played) -> bool:
    """Whether it was put right before the exam that counts showed anything."""
    return mended.attempt < len(played.attempts) - 1 or mended.presentations == 0


def _set_up(truth: Truth, played: Played) -> Marked:
    mended = _mended(played)
    needless = sum(mark.act.do == "mend" and not mark.useful for mark in played.marks)
    earned = 3 if truth.fault == "none" else 0
    if mended is not None:
        earned = 3 if _in_time(mended, played) else 1
    given = "nothing was put right" if mended is None else f"{mended.act.what} was put right"
    if mended is not None:
        given += f" after {mended.presentations} presentations of exam {mended.attempt + 1}"
    given += f"; {needless} needless" if needless else ""
    return Marked(
        "set_up", "Was the set-up checked and put right in time?", given,
        dict(FAULT)[truth.fault], "A fault counts from the first presentation on.",
        float(max(0, earned - needless)), 3.0,
    )  # fmt: skip


def _remedy(truth: Truth) -> str:
    return REMEDY.get(habit_of(truth.habit), "")


def _said(mark: Mark, word: str) -> bool:
    return mark.act.do == "rest" if word == "rest" else mark.act.what == word


def _word(truth: Truth, played: Played) -> Marked:
    word = _remedy(truth)
    said = [mark for mark in played.marks if word and _said(mark, word)]
    due = _due(word, played.attempts)
    late = _late(said[0], due) if said else None
    earned = 3 if not word or (late is not None and late <= IN_TIME) else (1 if said else 0)
    given = "nothing was said of it" if word else "no word was needed"
    if late is not None:
        given = f"said {late} presentations after it was called for" if late > 0 else "said in time"
    truth_words = f"{habit_of(truth.habit).replace('_', '-')}"
    needed = f": {WORDS[word]}" if word else ": no word needed"  # type: ignore[index]
    return Marked(
        "word", "Was the right thing said, in time?", given, f"{truth_words}{needed}",
        f"The exam's own advice counts as the call; in time is within {IN_TIME} presentations.",
        float(earned), 3.0,
    )  # fmt: skip


def _due(word: str, attempts: Sequence[Attempt]) -> tuple[int, int]:
    """Attempt and presentation from which the word was called for."""
    for number, attempt in enumerate(attempts):
        shown = 0
        for entry in attempt.entries:
            shown += isinstance(entry.event, AnsweredLine)
            if isinstance(entry.event, Advised) and entry.event.kind in CONCERN.get(word, ()):
                return number, shown
    return 0, 0


def _late(said: Mark, due: tuple[int, int]) -> int:
    """Presentations from the call to the word; a later exam is as late as can be."""
    if said.attempt != due[0]:
        return 0 if said.attempt < due[0] else 1000
    return max(0, said.presentations - due[1])


def _restraint(truth: Truth, played: Played) -> Marked:
    word = _remedy(truth)
    spoken = [mark for mark in played.marks if mark.act.do in ("say", "rest")]
    needless = sum(not (word and _said(mark, word)) for mark in spoken)
    return Marked(
        "restraint", "Was the participant left in peace?",
        f"{needless} words or rests that nothing called for", f"at most {FREE_WORDS}",
        "Words without need unsettle a careful person.",
        float(max(0, 2 - max(0, needless - FREE_WORDS))), 2.0,
    )  # fmt: skip


def outcome(truth: Truth, played: Played) -> Truth:
    """The truth as it was for most of the exam that counts."""
    mended = _mended(played)
    in_time = mended is not None and _in_time(mended, played)
    habit = _habit_of_last(truth.habit, played)
    return truth.as_if(habit, NoFault() if in_time else truth.set_up)


def _habit_of_last(habit: Habit, played: Played) -> Habit:
    word = REMEDY.get(habit_of(habit))
    last = len(played.attempts) - 1
    half = played.last.state.index / 2
    heard = any(
        _said(mark, word or "") and (mark.attempt < last or mark.presentations <= half)
        for mark in played.marks
    )
    return told(habit, frozenset({word}), rested=True) if word and heard else habit


def _step(truth: Truth, played: Played, step: str) -> Marked:
    right = next_step(outcome(truth, played))
    ended = played.last.state.phase == "finished"
    if not ended and right in ("keep", "confirm"):
        right = "explain"
    why = "It follows from room and habit as they were during the exam that counts."
    if not ended:
        why = "The exam that counts was not finished, so there is no result to keep or confirm."
    words = dict(NEXT)
    return Marked("next", "Was the next step right?", words[step], words[right], why,
                  2.0 * (step == right), 2.0)  # fmt: skip
