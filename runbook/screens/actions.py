"""The keys of the set screen that change the day: its setups, its breaks, the light and the camera."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import ClassVar, Final

from textual.binding import BindingType

from runbook.changeover.checklist import Check
from runbook.changeover.steps import Step
from runbook.day.actions import Refused
from runbook.day.day_view import HeadLine
from runbook.day.parse_input import hint, parse_break, parse_frames, parse_time, parse_words, reading_options
from runbook.day.state import UNPLANNED
from runbook.screens.base import WHY, DayScreen, asking, numbered
from runbook.screens.keys import key

STATE_WORD: Final = {"to do": "", "changing": "changing", "ready": "READY", "shot": "shot", "skipped": "skipped"}
_NO_SETUP: Final = "no current setup; n begins one"
_ON_BREAK: Final = "on a break; b ends it, t shows its checks"


class SetupActions(DayScreen):
    """The keys that move the day on."""

    BINDINGS: ClassVar[list[BindingType]] = [
        key("n", "next", "next", "begin the next setup"),
        key("g", "go", "go to", "go to any setup, forward or back"),
        key("c", "shot", "shot", "mark the setup as shot"),
        key("k", "skip_setup", "skip setup", "skip a setup, and why"),
        key("a", "ahead", "ahead", "do steps of the next setup ahead"),
        key("b", "pause", "break", "begin or end a break"),
        key("v", "event", "event", "late talent, changed battery"),
        key("i", "who", "who", "who is at the keyboard"),
    ]

    def title_of(self, setup_id: str | None) -> str:
        """Return a setup by name; None is the wrap."""
        if setup_id is None:
            return "the wrap"
        setup = self.session.plan.setups.get(setup_id)
        return (setup.title if setup else "") or setup_id

    # -- from setup to setup -----------------------------------------------------------------

    @asking
    async def action_next(self) -> None:
        """Begin the next setup; asked first when this one is not finished, or the wrap has begun."""
        setup_id = self.session.view.next_setup
        if not self.session.state.wrapping:
            await self._begin_asked(setup_id, asked=self._unfinished)
        elif setup_id is None:
            raise Refused("the wrap has begun; g goes back to a setup, q leaves the day")
        else:
            choices = [("s", "stay with the wrap", None), ("g", f"go back to {self.title_of(setup_id)}", True)]
            await self.choose("The wrap has begun, and not every setup is shot.", choices)
            self._begin(setup_id)

    @asking
    async def action_go(self) -> None:
        """Go to any setup or the wrap; asked first when the current one may be shot and is not marked so."""
        setups = self.session.view.setups
        choices = numbered((f"{line.title}  {STATE_WORD[line.state]}".rstrip(), line.id) for line in setups)
        choices.append(("w", "the wrap: strike everything", ""))
        at = next((n for n, line in enumerate(setups) if line.now), 0)
        await self._go_to(await self.choose("Go to which setup?", choices, at) or None)

    @asking
    async def go_to(self, setup_id: str) -> None:
        """Go to a setup; asked first when the current one may be shot and is not marked so."""
        await self._go_to(setup_id)

    async def _go_to(self, setup_id: str | None) -> None:
        session, at_work = self.session, self.session.state.at_work
        worked_on = session.view.ready or session.state.frames.get(at_work or "", 0) > 0
        await self._begin_asked(setup_id, asked=self._unfinished and worked_on and setup_id != at_work)

    @property
    def _unfinished(self) -> bool:
        """Whether there is a current setup, neither shot nor skipped."""
        state, setup = self.session.state, self.session.view.setup
        return setup is not None and setup.id not in state.shot | state.setups_skipped.keys()

    async def _begin_asked(self, setup_id: str | None, *, asked: bool) -> None:
        name = self.title_of(setup_id)
        choices = [
            ("s", "stay", None),
            ("c", f"mark as shot, then {name}", "shot"),
            ("l", f"leave it open, then {name}", "go"),
        ]
        answer = await self.choose(self._open_work(), choices) if asked else "go"
        if answer == "go" or self.day.do(self.session.mark_shot):
            self._begin(setup_id)

    def _begin(self, setup_id: str | None) -> None:
        self.day.do(lambda: self.session.begin(setup_id), f"begun: {self.title_of(setup_id)}")

    def _open_work(self) -> str:
        """Return what is open of the current setup, to begin a question with."""
        view, state = self.session.view, self.session.state
        left = len(view.pending.left)
        text = f"{left} step{'s are' if left > 1 else ' is'} left"
        if not left and view.setup is not None:
            taken = state.frames.get(view.setup.id, 0)
            text = f"{taken} of {view.setup.frames} frames taken, not marked as shot"
        return f"{self.title_of(state.at_work)}: {text}."

    @asking
    async def action_shot(self) -> None:
        """Mark the setup as shot; asked first when steps are left."""
        session, steps = self.session, ""
        left = len(session.view.pending.left)
        if left and session.view.setup is not None and session.view.setup.id not in session.state.shot:
            await self.choose(self._open_work(), [("s", "stay", None), ("c", "mark the setup as shot", True)])
            steps = f" with {left} step{'s' if left > 1 else ''} left"
        self.day.do(session.mark_shot, f"marked as shot{steps}; n begins the next, u undoes it")

    @asking
    async def action_skip_setup(self) -> None:
        """Skip a setup, with a reason."""
        choices = [  # numbered as everywhere else, whichever of them are over
            (str(n) if n < 10 else "", line.title, line.id)
            for n, line in enumerate(self.session.view.setups, 1)
            if line.state in ("to do", "changing", "ready")
        ]
        setup_id = await self.choose_of("Skip which setup?", choices, "no setup is left to skip")
        reason = await self.ask(f"Skip: {self.title_of(setup_id)}", WHY, parse_words)
        self.day.do(lambda: self.session.skip_setup(setup_id, reason))

    @asking
    async def action_ahead(self) -> None:
        """Do steps of the next setup while this one still runs."""
        session, done = self.session, True
        while done:
            ahead = session.view.ahead
            listed: dict[str, Check | Step] = {}
            for step in ahead.todo:  # a check that holds several steps is asked before the first
                listed |= {f"CHECK {hold.check.text}": hold.check for hold in ahead.open_holds(step)}
                listed[step.text] = step
            title = f"Ahead, for {self.title_of(session.view.next_setup)}:"
            of = await self.choose_of(
                title, numbered(listed.items()), "nothing of the next setup can be done ahead now"
            )
            if isinstance(of, Check):
                done = self.day.do(partial(session.tick_check, of, ahead=True), f"checked: {of.text}")
            else:
                done = self.day.do(partial(session.tick_ahead, of), f"done ahead: {of.text}")
            done = done and bool(session.view.ahead.todo)

    # -- events ------------------------------------------------------------------------------

    @asking
    async def action_pause(self) -> None:
        """Begin a break, or end it."""
        session = self.session
        if session.state.on_break is not None:
            self.day.do(session.resume, "the break is over")
            return
        breaks = session.plan.day.breaks
        choices = numbered(
            [
                *((f"{rest.name or rest.id}, {rest.minutes:g} min", rest.id) for rest in breaks),
                ("a break that is not in the plan", UNPLANNED),
            ]
        )
        break_id = await self.choose("Which break begins?", choices)
        if break_id == UNPLANNED:
            await self._ask_unplanned_break()
        else:
            self.day.do(lambda: session.pause(break_id), _ON_BREAK)

    @asking
    async def action_event(self) -> None:
        """Enter an unplanned event: a late talent, a changed battery, a break."""
        choices = [("a talent is late", self._ask_late_talent), ("a battery was changed", self._ask_changed_battery)]
        if self.session.state.on_break is None:
            choices.append(("an unplanned break begins", self._ask_unplanned_break))
        ask = await self.choose("What happened?", numbered(choices))
        await ask()

    async def _ask_unplanned_break(self) -> None:
        question = "An unplanned break: how many minutes, and why?"
        entered = await self.ask(question, "like: 20 fire alarm", parse_break)
        self.day.do(lambda: self.session.pause(UNPLANNED, *entered), _ON_BREAK)

    async def _ask_late_talent(self) -> None:
        talents = dict.fromkeys(look.sitter for look in self.session.plan.day.looks)
        none = "the plan names no looks; add [[look]] to day.toml"
        talent = await self.choose_of("Which talent is late?", numbered(zip(talents, talents, strict=True)), none)
        due = await self.ask(f"When is {talent} expected?", "a time of day, like 13:40", parse_time)
        self.day.do(lambda: self.session.talent_is_late(talent, due), f"{talent} expected at {due}")

    async def _ask_changed_battery(self) -> None:
        heads = [head.id for head in self.session.plan.kit.heads if not head.mains]
        choices = numbered(zip(heads, heads, strict=True))
        head = await self.choose_of(
            "Which head has a full battery now?", choices, "no head of the kit runs on a battery"
        )
        self.day.do(lambda: self.session.battery_changed(head), f"battery changed: {head}")

    @asking
    async def action_who(self) -> None:
        """Choose who is at the keyboard: one of the crew, or who took the day over."""
        names = {member.id: member.name or member.id for member in self.session.plan.day.crew}
        taken_by = self.session.state.taken_by
        if taken_by is not None:
            names.setdefault(taken_by, taken_by)
        choices = numbered((name, who) for who, name in names.items())
        none = "the plan names no crew; add [[crew]] to day.toml"
        who = await self.choose_of("Who is at the keyboard?", choices, none)
        self.session.who = who
        self.day.show_message(f"at the keyboard: {who}")


class LightActions(DayScreen):
    """The keys of the heads and the camera. ``head`` is the row picked in their table."""

    BINDINGS: ClassVar[list[BindingType]] = [
        *(key(str(n), f"head({n})", f"head {n}", "pick a head", shown="1-9") for n in range(1, 10)),
        key("plus,equals_sign", "nudge(1)", "up", "power one click up or down", shown="+"),
        key("minus", "nudge(-1)", "down", "power one click up or down", shown="-"),
        key("o", "other", "other", "change another value, as shot"),
        key("r", "reading(True)", "meter", "enter a meter reading: this head; all heads"),
        key("R", "reading(False)", "meter all", "enter a meter reading: this head; all heads"),
        key("p", "set_planned_power", "power", "set the power that meets the target: this head; all"),
        key("P", "set_all_powers", "all powers", "set the power that meets the target: this head; all"),
        key("m", "save_reading", "save reading", "save the reading in kit.toml"),
        key("f", "frames", "frames", "count frames"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.head = 0

    def action_head(self, n: int) -> None:
        """Pick a head for power and readings."""
        known = len(self.session.view.heads)
        if n <= known:
            self.head = n - 1
            self.repaint()
        else:
            self.day.show_message(f"no head {n} here; the table has {known or 'none'}")

    def _head(self) -> HeadLine:
        """Return the head picked. Raises Refused where there is none."""
        heads = self.session.view.heads
        if not heads:
            raise Refused(_NO_SETUP)
        return heads[min(self.head, len(heads) - 1)]

    def _change_power(self, act: Callable[[str], object], what: str) -> None:
        head = self._head()

        def change_text(_: object) -> str:
            new = self._head().power
            return f"{head.head}: {head.power} to {new}, {what}" if new != head.power else f"{head.head}: unchanged"

        self.day.do(lambda: act(head.head), change_text)

    @asking
    async def action_nudge(self, clicks: int) -> None:
        """Turn the head's own dial by a click."""
        self._change_power(lambda head: self.session.nudge(head, clicks), "as shot")

    @asking
    async def action_set_planned_power(self) -> None:
        """Set the power that gives the light the plan asks of the head picked."""
        self._change_power(self.session.dial_as_asked, "as planned")

    @asking
    async def action_set_all_powers(self) -> None:
        """Set every power that makes what the plan asks come true, from the meter where it was read."""
        if self.session.view.setup is None:
            raise Refused(_NO_SETUP)
        self.day.do(self.session.dial_as_asked, str)

    @asking
    async def action_other(self) -> None:
        """Enter another value of the head picked or of the camera, as shot."""
        session = self.session
        if session.view.setup is None:
            raise Refused(_NO_SETUP)
        head = self._head().head if session.view.heads else None
        changes = await self.ask(
            f"Change {f'{head} or the camera' if head else 'the camera'}, as shot:",
            hint(session.plan.day.units, head=head is not None),
            lambda text: session.targets(head, text),
        )
        self.day.do(lambda: session.change(changes), lambda changed: f"{changed}, as shot")

    @asking
    async def action_reading(self, alone: bool) -> None:
        """Enter what the meter showed for the head picked, or for all together; asked where it has two meanings."""
        head = self._head().head
        of = head if alone else None
        where = f"Meter reading at {self.session.metered_at(of)}, {f'{of} alone' if of else 'all heads together'}:"
        example = "like 5.6, or 5.6 +0.3" + ("; R: all together" if alone else "")
        options = await self.ask(where, example, reading_options)
        stops = options[0].stops
        if len(options) > 1:
            choices = numbered((option.text, option.stops) for option in options)
            stops = await self.choose("Which does the meter show?", choices)
        self.day.do(lambda: self.session.reading(of, stops), str)

    @asking
    async def action_save_reading(self) -> None:
        """Save the picked head's last reading in kit.toml, for other days; asked first."""
        from runbook.day.repeat_setup import save_measurement, save_question  # not what the start waits for

        head = self._head().head
        question, effect = save_question(self.session, head)
        await self.choose(question, [("y", effect, True), ("n", "leave kit.toml unchanged", None)], at=1)
        self.day.do(lambda: save_measurement(self.session, head), str)

    @asking
    async def action_frames(self) -> None:
        """Count frames."""
        if self.session.view.setup is None:
            raise Refused(_NO_SETUP)
        count = await self.ask("How many more frames?", "like 36; -4 corrects", parse_frames)
        self.day.do(lambda: self.session.frames(count), "frames counted")
