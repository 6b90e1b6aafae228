"""Errors that make the work unsafe, one piece of the planner, the holds, the set-up, the gate or the moves each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from chopstick.engine.jobs import entering
from chopstick.engine.knowledge import hazards
from chopstick.engine.reasoning import gate, holds, set_up
from chopstick.engine.reasoning.holds import HoldState
from chopstick.engine.reasoning.steps import Plan

READING = set_up._Reading


@dataclass(frozen=True)
class Error:
    """What is done wrong, and where: `old`, which stands once in the function, becomes `new`."""

    what: str
    where: Any
    old: str
    new: str


PLANNER = (
    Error("moves are forgotten", Plan.blocked_by, "or self.move_before(work)", ""),
    Error("holds and dangers are forgotten", Plan.blocked_by, "next(barred, None) or ", ""),
    Error("only what was answered no bars", Plan.open_holds, "is not True", "is False"),
    Error("dangers bar nothing", Plan.blocked_by, 'hold.kind != "standing"', 'hold.kind not in ("standing", "danger")'),
    Error("what was left untold bars nothing", Plan.blocked_by, 'hold.kind != "standing"', 'hold.kind not in ("standing", "untold")'),
    Error("cold work needs no bleeding", Plan.move_before, 'if work.stage == "cold" or hands_inside(work):\n            return bled', 'if work.stage == "cold" or hands_inside(work):\n            return None'),
    Error("nobody is told to bleed", Plan.move_before, 'hold.blocks == "cold" and hold.answered is not True', 'hold.blocks == "nothing"'),
    Error("a bleeding that failed will do", Plan.move_before, 'hold.blocks == "cold" and hold.answered is not True', 'hold.blocks == "cold" and hold.answered is None'),
    Error("nobody is told to unplug", Plan.move_before, 'hold.blocks == "look" and hold.answered is not True', 'hold.blocks == "nothing"'),
    Error("unplugging is only asked of a bled amp", Plan.move_before, 'set_up.stage != "cold"', 'set_up.stage == "cold"'),
    Error("cold work counts as a look", Plan.move_before, 'work.stage == "cold" or hands_inside(work)', "False"),
    Error("looks count as work under power", Plan.move_before, "work.stage not in model.POWERED", 'work.stage == "cold"'),
    Error("clips go on without bleeding", Plan.move_before, "and self.base.moves and bled", "and False"),
    Error("what was prepared once is taken as prepared", Plan.move_before, "if prepared_first(work) and work.id not in self.facts.set_up.prepared and self.base.moves and bled:", "if prepared_first(work) and not self.facts.set_up.prepared and self.base.moves and bled:"),
    Error("no move leads to power", Plan.move_before, "self._leads_to(hold, work.stage) and hold.answered is not True", "False"),
    Error("a no to a move will do", Plan.move_before, "self._leads_to(hold, work.stage) and hold.answered is not True", "self._leads_to(hold, work.stage) and hold.answered is None"),
    Error("the limiter leads to full mains", Plan._leads_to, '(hold.blocks == "first power") == (stage == "first power")', 'hold.blocks == "first power"'),
    Error("full mains in place of the limiter", Plan._leads_to, '(hold.blocks == "first power") == (stage == "first power")', 'hold.blocks == "live"'),
    Error("either power leads to either", Plan._leads_to, '(hold.blocks == "first power") == (stage == "first power")', "self.facts.set_up.stage not in model.POWERED"),
    Error("power in one step", Plan.way_up, "in move.through", "in ()"),
    Error("the last step of the way is left out", Plan.way_up, "in move.through", "in move.through[:-1]"),
    Error("the first step of the way is left out", Plan.way_up, "in move.through", "in move.through[1:]"),
    Error("work in the supply asks for no new way", Plan.way_up, "or self.facts.done_at.get(id_, 0) < since", ""),
    Error("no area asks for a new way", Plan.way_up, "in move.anew_after", "in ()"),
    Error("the way is not asked of an amp of unknown kind", Plan.way_up, "self.applicable(self.base.checks[id_])", "self.base.checks[id_].needs"),
    Error("full mains before the way", Plan.allowed, 'if work.stage in ("live", "play"):', 'if work.stage == "play":'),
    Error("play before the way", Plan.allowed, 'if work.stage in ("live", "play"):', 'if work.stage == "live":'),
    Error("safety checks gate nothing", Plan.allowed, "if due:", "if False:"),
    Error("the check that is due is offered in place, unasked", Plan.allowed, 'return self.allowed(Step("check", due[0].id, why=why))', 'return Step("check", due[0].id, why=why)'),
    Error("the step of the way is offered unasked", Plan.allowed, 'return self.allowed(Step("check", check.id, why="power comes in steps: this one before full mains"))', 'return Step("check", check.id)'),
    Error("what bars and can't be asked away is passed over", Plan.allowed, "if hold.to_be_asked else None", "if hold.to_be_asked else step"),
    Error("a move that was answered no is passed over", Plan.allowed, 'if hold.answered is None else None', 'if hold.answered is None else step'),
    Error("cold safety checks gate nothing", Plan.safety_checks, "check.stage not in model.POWERED", 'check.stage == "look"'),
    Error("no check bears on safety", Plan.safety_checks, "if check.safety", "if False"),
    Error("looks on safety gate nothing", Plan.safety_checks, "check.stage not in model.POWERED", 'check.stage == "cold"'),
    Error("no clips are named", Plan._with_prepared, "return replace(move, prepared=tuple(chosen)[:MOST_CLIPS])", 'return move if move.prepared else replace(move, prepared=("nothing",))'),
)  # fmt: skip

HOLDS = (
    Error("dangers are not counted", holds.holds_of, "raised += dangers(base, facts, deduction, ranking)", "pass"),
    Error("what was left untold is not counted", holds.holds_of, "raised += untold(base, facts)", "pass"),
    Error("rules raise nothing", holds.holds_of, "in deduction.holds.items()", "in ()"),
    Error("what was measured stands against nothing", holds._measured, "return one.how", 'return ""'),
    Error("what was concluded stands against nothing", holds._measured, "one.by in base.rules", "False"),
    Error("with any set-up the power tubes are out", HoldState.bars, "if self.tubes and", "if"),
    Error("a cause not proven to be there is no danger", holds.dangers, "if _may_be_behind(base, facts, ranking, said, id_)", "if False"),
    Error("any repair ends a danger", holds.dangers, "or _mended(base, facts, ranking, said)", "or facts.repairs"),
    Error("dangers bar play only", holds.dangers, '"play" if forbids.bars == "play" else "first power"', '"play"'),
    Error("a wrong load bars nothing", holds.dangers, '"play" if forbids.bars == "play" else "first power"', '"play" if forbids.bars != "play" else "look"'),
    Error("a repair not proven ends a danger", holds._holds_good, "return repaired.proven", "return True"),
    Error("an unlikely danger is none", holds._may_be_behind, ">= RULED_OUT", ">= 0.999"),
    Error("can't tell will do", holds.untold, "done != CANT_TELL", "True"),
    Error("can't tell will do on the way up", holds.untold, "or id_ in way_up", ""),
    Error("can't tell will do on a safety check", holds.untold, "(check.safety and check.stage not in model.POWERED)", "False"),
)  # fmt: skip

SET_UP = (
    Error("volts are not judged", set_up.is_cleared, "return entry.cleared and low", "return entry.cleared"),
    Error("ten times the volts will do", set_up.is_cleared, "< wanted.below", "< 10 * wanted.below"),
    Error("a no counts as a yes", set_up.is_cleared, "return entry.cleared and low", "return low"),
    Error("power leaves the amp bled", READING._under_power, "self._lapse(powered=False)", "pass"),
    Error("work under power leaves the amp as it was", READING.take, "self._under_power(work.stage)", "pass"),
    Error("a bleeding answered no leaves it bled", READING._moved, "self.volts = entry.volts or self.volts\n    self.answered[hold.id] = cleared", "self.volts = entry.volts or self.volts\n    self.answered[hold.id] = cleared or self.answered.get(hold.id, False)"),
    Error("hands are never inside", set_up.hands_inside, "return work.hands in INSIDE if work.hands is not None else work.stage == \"cold\"", "return False"),
    Error("clips are no hands", set_up.hands_inside, "work.hands in INSIDE", 'work.hands in ("inside", "iron")'),
    Error("an iron is no hands", set_up.hands_inside, "work.hands in INSIDE", 'work.hands in ("inside", "clip-on")'),
    Error("nothing is prepared under power", set_up.prepared_first, "work.stage in model.POWERED and", "work.stage not in model.POWERED and"),
    Error("a repair is no work", set_up.work_of, "return base.repairs.get(entry.repair)", "return None"),
    Error("a reading is no work", set_up.work_of, "isinstance(entry, Answer | Reading)", "isinstance(entry, Answer)"),
)  # fmt: skip

GATE = (
    Error("the gate asks no plan", gate.passed, "hold = stands_before(now, wanted) if wanted is not None else None", "hold = None"),
    Error("what bars is passed over", gate.passed, "return Passed((), hold)\n            entries.append", "break\n            entries.append"),
    Error("nothing need be told before", gate.stands_before, "due_before_power(now, work.stage, work.id) if leads_to_power else None", "None"),
    Error("moves by themselves meet nothing", gate.passed, "return Passed((), barred)", "pass"),
    Error("moves by themselves may be told nothing before", gate.before_move, "return due_before_power(now, move.blocks)", "return None"),
    Error("no safety checks before power", gate.due_before_power, "due = list(plan.safety_checks())", "due = []"),
    Error("nothing is due on the limiter", gate.due_before_power, "if stage not in model.POWERED or", 'if stage not in ("live", "play") or'),
    Error("work counts as skipped", gate._skipped, "isinstance(entry, Answer) and entry.answer in (CANT_TELL, NOT_THIS_AMP)", "isinstance(entry, Answer)"),
)  # fmt: skip

REST = (
    Error("no finding forbids", hazards.forbidding, "if finding.bars or behind >= BEHIND:", "if False:"),
    Error("only what authors marked forbids", hazards.forbidding, "finding.bars or behind >= BEHIND", "finding.bars"),
    Error("shock and fire forbid nothing by themselves", hazards.bars_of, '"power" if cause.hazard in ("shock", "fire") else "nothing"', '"nothing"'),
    Error("fire forbids nothing", hazards.bars_of, '("shock", "fire")', '("shock",)'),
    Error("the least is forbidden", hazards._strictest, "if so_far >= WEIGHS * total:\n            return bars", "pass"),
    Error("what is read against is not told", entering._holds, "if cleared and state is not None and state.against:", "if False:"),
)  # fmt: skip

ERRORS = (*PLANNER, *HOLDS, *SET_UP, *GATE, *REST)
