"""The set: the setups, the heads, and the steps to the setup at hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar, Final

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.widgets import Static

from runbook.change.steps import Step
from runbook.plan.units import length
from runbook.screens.ask import Ask, Choose
from runbook.screens.base import DayScreen
from runbook.screens.keys import SET
from runbook.screens.paint import cut, fit, lines, rule
from runbook.screens.rows import Row, first_open, rows
from runbook.screens.step_list import RowList
from runbook.session.session import HeadLine, SetupLine
from runbook.session.typed import read_frames, read_reading, read_words

_MOST_HEADS: Final = 8
_STATE_WORD: Final = {
    "to do": "",
    "changing": "changing",
    "ready": "READY",
    "shot": "shot",
    "skipped": "left out",
}


class SetScreen(DayScreen):
    """What do I do now."""

    KEYS = SET
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "tick", "done", show=False),
        Binding("x", "skip", "skip", show=False),
        Binding("up", "cursor(-1)", "up", show=False),
        Binding("down", "cursor(1)", "down", show=False),
        Binding("pageup", "cursor(-10)", "up", show=False),
        Binding("pagedown", "cursor(10)", "down", show=False),
        Binding("home", "now", "to now", show=False),
        Binding("right,enter", "fold(False)", "open", show=False),
        Binding("left", "fold(True)", "close", show=False),
        Binding("n", "next", "next", show=False),
        Binding("g", "go", "go", show=False),
        Binding("c", "shot", "shot", show=False),
        Binding("k", "leave_out", "leave out", show=False),
        Binding("b", "pause", "break", show=False),
        Binding("a", "ahead", "ahead", show=False),
        Binding("plus,equals_sign", "nudge(1)", "up", show=False),
        Binding("minus", "nudge(-1)", "down", show=False),
        Binding("r", "reading", "reading", show=False),
        Binding("f", "frames", "frames", show=False),
        Binding("w", "note", "note", show=False),
        Binding("i", "who", "who", show=False),
        *(Binding(str(n), f"head({n})", "head", show=False) for n in range(1, 10)),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.unfolded: frozenset[tuple[str, ...]] = frozenset()
        self.head = 0
        self.at_setup: str | None = None
        self.moved = False

    def compose(self) -> ComposeResult:
        yield Static(id="top")
        with Horizontal(id="middle"):
            yield Static(id="setups")
            with Vertical(id="work"):
                yield Static(id="strip")
                yield Static(id="heads")
                yield Static(id="title")
                yield RowList(self.glyphs, "", id="steps")
        yield Static(id="now")
        yield Static(id="said")
        yield Static(id="keys")

    # -- painting ---------------------------------------------------------------------------

    def show_truth(self) -> None:
        """Paint everything from the session."""
        super().show_truth()
        session, truth = self.session, self.session.truth
        if truth.at_work != self.at_setup:
            self.at_setup = truth.at_work
            self.unfolded = frozenset()
            self.moved = False
        listed = rows(session, self.unfolded)
        steps = self.query_one("#steps", RowList)
        steps.empty = self._nothing_to_do()
        steps.show(listed, self._cursor(steps, listed))
        self.query_one("#setups", Static).update(self._setups())
        self.query_one("#strip", Static).update(self._strip())
        self.query_one("#heads", Static).update(self._heads())
        self.query_one("#title", Static).update(self._title())
        self.query_one("#now", Static).update(self._now(listed))

    def _cursor(self, steps: RowList, listed: list[Row]) -> int:
        """The cursor stays where a person put it; else it waits on what is next."""
        if self.moved and steps.row is not None:
            key = steps.row.key
            for n, row in enumerate(listed):
                if row.key == key and not row.over:
                    return n
        self.moved = False
        return first_open(listed)

    def _width(self) -> int:
        work = self.query_one("#work", Vertical)
        return work.size.width or self.size.width

    def _setup_sign(self, line: SetupLine) -> str:
        glyphs = self.glyphs
        return {
            "shot": glyphs.done,
            "skipped": glyphs.skipped,
            "changing": glyphs.here,
            "ready": glyphs.here,
            "to do": glyphs.to_do,
        }[line.state]

    def _setups(self) -> Text:
        """The setups as a column, where the screen is wide."""
        width = self.query_one("#setups", Static).size.width
        if width == 0:
            return Text()
        parts = []
        for n, line in enumerate(self.session.setups, 1):
            counted = f"{line.frames}/{line.frames_planned}" if line.frames or line.now else ""
            word = _STATE_WORD[line.state]
            text = f"{self._setup_sign(line)} {n:>2} {line.title}"
            style = "bold" if line.now else ("dim" if line.state in ("shot", "skipped") else "")
            parts.append((fit(text, width, self.glyphs), style))
            if line.now or counted or word:
                parts.append((fit(f"     {word}  {counted}".rstrip(), width, self.glyphs), style))
        return lines(*parts)

    def _strip(self) -> Text:
        """The setups on one line, and the one at work by name."""
        session = self.session
        signs = " ".join(f"{self._setup_sign(line)}{n}" for n, line in enumerate(session.setups, 1))
        now = next((line for line in session.setups if line.now), None)
        if now is not None:
            word = _STATE_WORD[now.state]
            title = f"{now.title}  {word}  frames {now.frames}/{now.frames_planned}"
        elif session.truth.wrapping:
            title = "WRAP"
        else:
            title = "Load-in: n begins the first setup"
        return lines(
            (cut(signs, self._width(), self.glyphs), ""),
            (cut(title, self._width(), self.glyphs), "bold"),
        )

    def _heads(self) -> Text:
        heads = self.session.heads
        if not heads:
            return Text("")
        self.head = min(self.head, len(heads) - 1)
        return lines(*(self._head(n, head) for n, head in enumerate(heads[:_MOST_HEADS])))

    def _head(self, n: int, head: HeadLine) -> tuple[str, str]:
        """One head on one line: what to dial first, then what it wears and where it stands."""
        glyphs, width = self.glyphs, self._width()
        wide = width >= 100
        here = glyphs.here if n == self.head else " "
        state = glyphs.done if head.state == "set" else glyphs.to_do
        role = f"{head.role:<10}" if wide else f"{head.role:<6.6}"
        power = str(head.power)
        if head.power != head.planned:
            power += f" (plan {head.planned})" if wide else "*"
        text = f"{here}{n + 1} {state} {head.head:<2} {role} {power:<{20 if wide else 9}} "
        high = length(head.height_m, self.session.plan.day.units)
        where = f"{head.place}, {high} up, {head.stand}"
        room = width - len(text) - (12 if head.reading else 0)
        modifier = min(max(room - len(where) - 1, room // 3), 34)
        text += fit(head.modifier, modifier, glyphs)
        text += f" {fit(where, room - modifier - 1, glyphs)}"
        if head.reading:
            text += f" {head.reading:>11}"
        return cut(text, width, glyphs), "bold" if n == self.head else ""

    def _title(self) -> Text:
        session = self.session
        lines_ = session.lines
        over = sum(line.state in ("done", "skipped") for line in lines_)
        open_checks = sum(hold.open for hold in session.view.holds)
        title = f"steps {over} of {len(lines_)}" if lines_ else "steps"
        if open_checks:
            title += f", {open_checks} check{'s' if open_checks > 1 else ''} open"
        if any(head.power != head.planned for head in session.heads):
            title += ", * power not as planned"
        ahead = len(session.steps_ahead)
        if ahead:
            title += f", {ahead} can be done ahead (a)"
        return Text(rule(title, self._width(), self.glyphs), style="dim", no_wrap=True)

    def _nothing_to_do(self) -> str:
        session = self.session
        if session.truth.on_break is not None:
            return "On a break: b ends it."
        if not session.truth.begun:
            return "Nothing stands yet. n begins the first setup, g any other."
        return "Nothing to change: it stands."

    def _now(self, listed: list[Row]) -> Text:
        """The step at hand in one or two lines: all that a very small window shows."""
        row = listed[first_open(listed)] if listed else None
        text = row.text if row and not row.over else self._nothing_to_do()
        return Text(self.glyphs.shown(text), style="bold")

    # -- the list ----------------------------------------------------------------------------

    def action_cursor(self, by: int) -> None:
        self.moved = True
        self.query_one("#steps", RowList).step_cursor(by)

    def action_now(self) -> None:
        self.moved = False
        self.show_truth()

    def on_row_list_pressed(self, message: RowList.Pressed) -> None:
        """A click puts the cursor there."""
        steps = self.query_one("#steps", RowList)
        self.moved = True
        steps.show(steps.rows, message.at)

    def action_fold(self, close: bool) -> None:
        """Open or close the block at the cursor."""
        row = self.query_one("#steps", RowList).row
        if row is None or row.kind != "block":
            return
        self.unfolded = self.unfolded - {row.key} if close else self.unfolded | {row.key}
        self.moved = True
        self.show_truth()

    def action_tick(self) -> None:
        """What the cursor is on is done: a step, a whole block, a check."""
        row = self.query_one("#steps", RowList).row
        if row is None:
            self.day.say(self._nothing_to_do())
            return
        if row.over:
            self.day.say("that is done already; u takes back the last thing")
            return
        self.moved = False
        if row.check is not None:
            check = row.check
            self.day.do(lambda: self.session.tick_check(check))
        else:
            self._tick_steps(row)

    def _tick_steps(self, row: Row) -> None:
        for step in row.steps:
            if not self.day.do(lambda step=step: self.session.tick(step)):  # type: ignore[misc]
                self.unfolded |= {row.key}
                return

    def action_skip(self) -> None:
        """Leave out a step or set a check aside, with a reason."""
        row = self.query_one("#steps", RowList).row
        if row is None or row.over:
            return
        what = f"Set aside: {row.text}" if row.check else f"Skip: {row.text}"

        def reasoned(reason: str) -> None:
            if row.check is not None:
                check = row.check
                self.day.do(lambda: self.session.set_check_aside(check, reason))
                return
            for step in row.steps:
                if not self.day.do(lambda step=step: self._skip(step, reason)):  # type: ignore[misc]
                    return

        self._ask(what, "Why? The reason stays in the journal.", read_words, reasoned)

    def _skip(self, step: Step, reason: str) -> None:
        self.session.skip_step(step, reason)

    def _ask(
        self,
        question: str,
        hint: str,
        read: Callable[[str], Any],
        answered: Callable[[Any], object],
    ) -> None:
        def heard(value: Any) -> None:
            if value is not None:
                answered(value)

        self.app.push_screen(Ask(question, hint, read, self.glyphs), heard)

    # -- the setup ----------------------------------------------------------------------------

    def action_next(self) -> None:
        """Begin the next setup; asked first when this one is not finished."""
        session = self.session
        setup_id = session.next_setup
        if setup_id is None and session.truth.wrapping:
            self.day.say("the set is struck; q leaves the day")
            return
        now = session.truth.at_work
        unfinished = now is not None and now not in session.truth.shot
        if not unfinished:
            self._begin(setup_id)
            return
        self._ask_to_go(setup_id)

    def _ask_to_go(self, setup_id: str | None) -> None:
        name = self._title_of(setup_id)
        choices = [
            ("s", "stay", None),
            ("c", f"it is shot: on to {name}", "shot"),
            ("l", f"leave it open: on to {name}", "go"),
        ]

        def answered(answer: str | None) -> None:
            if answer == "shot" and not self.day.do(self.session.call_shot):
                return
            if answer is not None:
                self._begin(setup_id)

        now = self._title_of(self.session.truth.at_work)
        left = sum(line.state not in ("done", "skipped") for line in self.session.lines)
        state = f"{left} steps are left" if left else "it is not called shot"
        self.app.push_screen(Choose(f"{now}: {state}.", choices, self.glyphs), answered)

    def _title_of(self, setup_id: str | None) -> str:
        if setup_id is None:
            return "the wrap"
        return self.session.plan.setups[setup_id].title or setup_id

    def _begin(self, setup_id: str | None) -> None:
        self.day.do(lambda: self.session.begin(setup_id), f"begun: {self._title_of(setup_id)}")

    def action_go(self) -> None:
        """Go to any setup: back to an earlier one, ahead to a later one, or to the wrap."""
        found = self.session.setups
        choices: list[tuple[str, str, str | None]] = [
            (str(n) if n < 10 else "", f"{line.title}  {_STATE_WORD[line.state]}", line.id)
            for n, line in enumerate(found, 1)
        ]
        choices.append(("w", "the wrap: strike everything", ""))
        at = next((n for n, line in enumerate(found) if line.now), 0)

        def answered(setup_id: str | None) -> None:
            if setup_id is not None:
                self._begin(setup_id or None)

        self.app.push_screen(Choose("Go to which setup?", choices, self.glyphs, at), answered)

    def action_shot(self) -> None:
        """Call the setup shot."""
        self.day.do(self.session.call_shot, "called shot; n goes on")

    def action_leave_out(self) -> None:
        """Leave a setup out of the day, with a reason."""
        open_ones = [
            line for line in self.session.setups if line.state in ("to do", "changing", "ready")
        ]
        if not open_ones:
            self.day.say("no setup is left to leave out")
            return
        choices = [(str(n), line.title, line.id) for n, line in enumerate(open_ones, 1)]

        def chosen(setup_id: str | None) -> None:
            if setup_id is not None:
                self._ask(
                    f"Leave out: {self._title_of(setup_id)}",
                    "Why? The reason stays in the journal.",
                    read_words,
                    lambda reason: (
                        reason and self.day.do(lambda: self.session.skip_setup(setup_id, reason))
                    ),
                )

        self.app.push_screen(Choose("Leave out which setup?", choices, self.glyphs), chosen)

    def action_pause(self) -> None:
        """A break begins, or is over."""
        session = self.session
        if session.truth.on_break is not None:
            self.day.do(session.resume, "the break is over")
            return
        choices = [
            (str(n), f"{each.name or each.id}, {each.minutes:g} min", each.id)
            for n, each in enumerate(session.plan.day.breaks, 1)
        ] or [("1", "a break", "break")]

        def chosen(break_id: str | None) -> None:
            if break_id is not None:
                self.day.do(lambda: session.pause(break_id), "on a break; t shows its checks")

        self.app.push_screen(Choose("Which break begins?", choices, self.glyphs), chosen)

    def action_ahead(self) -> None:
        """Do a step of the next setup while this one still runs."""
        session = self.session
        steps = session.steps_ahead
        if not steps:
            self.day.say("nothing of the next setup can be done ahead now")
            return
        choices = [(str(n) if n < 10 else "", step.text, step) for n, step in enumerate(steps, 1)]

        def chosen(step: Step | None) -> None:
            if step is not None and self.day.do(
                lambda: session.tick_ahead(step), f"done ahead: {step.text}"
            ):
                self.action_ahead()

        self.app.push_screen(
            Choose(f"Ahead, for {self._title_of(session.next_setup)}:", choices, self.glyphs),
            chosen,
        )

    # -- light and camera ---------------------------------------------------------------------

    def action_head(self, n: int) -> None:
        """Pick a head for power and readings."""
        if n <= len(self.session.heads):
            self.head = n - 1
            self.show_truth()

    def _head_label(self) -> str | None:
        heads = self.session.heads
        return heads[self.head].head if self.head < len(heads) else None

    def action_nudge(self, clicks: int) -> None:
        """One click of the head's own dial."""
        head = self._head_label()
        if head is None:
            self.day.say("no setup is at work; n begins one")
            return
        old = next(line.power for line in self.session.heads if line.head == head)
        self.day.do(
            lambda: self.session.nudge(head, clicks),
            lambda new: f"{head}: {old} to {new}, as shot",
        )

    def action_reading(self) -> None:
        """Type in what the meter showed, for the head picked or the whole set."""
        head = self._head_label()
        if head is None:
            self.day.say("no setup is at work; n begins one")
            return
        choices: list[tuple[str, str, str | None]] = [
            (str(n), f"{line.head} alone", line.head)
            for n, line in enumerate(self.session.heads, 1)
        ]
        choices.append(("0", "everything together", ""))

        def chosen(of: str | None) -> None:
            if of is None:
                return
            self._ask(
                f"The meter at the face, {of + ' alone' if of else 'everything together'}:",
                "like 5.6, or 5.6 +0.3",
                read_reading,
                lambda stops: (
                    stops is not None
                    and self.day.do(lambda: self.session.reading(of or None, stops), "reading kept")
                ),
            )

        self.app.push_screen(Choose("Which reading?", choices, self.glyphs, self.head), chosen)

    def action_frames(self) -> None:
        """Count frames."""
        self._ask(
            "How many frames more?",
            "like 36; -4 corrects",
            read_frames,
            lambda count: (
                count is not None
                and self.day.do(lambda: self.session.frames(count), "frames counted")
            ),
        )

    def action_note(self) -> None:
        """Write a note."""
        self._ask(
            "A note:",
            "a few words",
            read_words,
            lambda text: (
                text is not None and self.day.do(lambda: self.session.note(text), "note kept")
            ),
        )

    def action_who(self) -> None:
        """Who is at the keyboard."""
        choices = [
            (str(n), member.name or member.id, member.id)
            for n, member in enumerate(self.session.plan.day.crew, 1)
        ]
        if not choices:
            self.day.say("the plan names no crew; add [[crew]] to day.toml")
            return

        def chosen(who: str | None) -> None:
            if who is not None:
                self.session.who = who
                self.day.say(f"at the keyboard: {who}")

        self.app.push_screen(Choose("Who is at the keyboard?", choices, self.glyphs), chosen)
