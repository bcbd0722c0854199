"""Proof that no order of events breaks a never rule, and that everything can be finished.

    prove(checklists) -> Report           every finding with the shortest order that leads to it
    interlocks(checklists)                what each interlock protects; needless ones
    count_orders(checklist)               permitted complete orders

Why the proof is sound
----------------------
**What is explored.**  `engine.changes` lists every way in which facts can change, as data: guard,
what becomes true, what becomes false.  `advance` changes facts through that table only, and the
prover explores that table only.  So what is proved is what runs.

**Facts without bookkeeping.**  A state of the engine is facts plus bookkeeping: what is done,
skipped or failed, the step at hand, pauses, readbacks, tries.  Leaving the bookkeeping out is
exact, not only safe: a step that applies and whose interlock holds can be gone to and reported
at any time, again too, from any bookkeeping; a failure can be repeated until its remedy gives
up; so bookkeeping neither allows a change of facts that the table does not list, nor keeps the
operator for good from one that it does.  What depends on bookkeeping is whether a checklist
closes; see below.  A wait is bookkeeping too: a step that waits can be gone to and reported
before its time is over, so time neither allows nor forbids a change of facts, and leaving it out
is exact; it opens steps again, which is seen to under Finishing.  `tests/proof` holds this
against an exhaustive walk of `advance` itself.

**The whole stay.**  All checklists' changes are possible at all times, in any order: a session
can be left and another begun.  Beginning one forgets its fresh facts and its site answers.
Traits of the rig have any value and never change, unless a rig is given.  This allows at least
what can happen (another checklist's changes without beginning it again first).

**Three rings.**  (1) Forward orders from a rig that nothing is recorded about.  (2) Taking back
as well.  A report that was a mistake may turn out to have broken a rule; that is not prevented
but alarmed, and from then on only the immediate actions are possible, which must lead out.
(3) One forward change from *any* record that breaks no rule, because an owner may correct the
record at any time: the interlocks must hold the rules by themselves (an inductive invariant).
In each, a forward change that makes a rule true is a finding even where `advance` would refuse
it at the last moment: the interlock has to do it, for it alone is told before the start.

**How.**  Sets of facts are binary decision diagrams; every change is a guarded assignment, so
images and preimages are exact and cheap.  Ring 3 is asked first: no change, made from any record
that breaks no rule, breaks one.  Where that holds, no order of whatever length can break one
(induction over the order), and nothing needs to be explored.  Where it does not, a search
backwards from the breach says whether an order leads there from the start, and which is the
shortest; else the breach stands as one from a corrected record.  Each dialogue is replayed
through `advance` before it is shown.

**Finishing.**  Whether a closing condition, a step, or gear coming back can be reached is asked
backwards too: first of every record that breaks no rule, a superset of what can be reached, so a
yes is sound; then, where the answer is no, whether an order leads to such a record.  Only going
forward counts as a way out: taking back and beginning again undo reports, not what was done.
Reports do not expire, but a report opens again what waits for so long after it; such a report
does not count as going on.  So if from every state a checklist's closing condition can be
reached, and each step that must be done can be, or can never come to apply, then doing those
steps one after the other and going on to the closing condition closes it: sound.  Where this
fails it may still close (another step may make the wanted one inapplicable), so a bit for each
wanted step then decides exactly.

**Budget.**  Time and memory are bounded; when they are spent, the report says "unproved" and is
not sound.

May import the checklist model, the engine, the session's wording and the language room.
"""

from handsfree.proof.findings import KINDS, Budget, Finding, Line, OrderCount, Report
from handsfree.proof.interlocks import Interlock, interlocks
from handsfree.proof.orders import count_orders
from handsfree.proof.prover import prove

__all__ = [
    "KINDS", "Budget", "Finding", "Interlock", "Line", "OrderCount", "Report", "count_orders",
    "interlocks", "prove",
]
