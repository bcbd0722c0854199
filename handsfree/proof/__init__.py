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

**Time and failing are changes.**  Evidence (a look, a test, a reading) may end at any moment at
which it holds and nothing rests on it: `EXPIRE` stands for its minutes, for a pause and for
resuming, so no clock is modelled and no order of events, however slow, is left out.  `FAIL` is a
no: what the test was to show is withdrawn, and what the failure shows is so.  What makes evidence
void otherwise (a motion, a change of what the road asks about) stands in the change that does it.

**Rules about what is done.**  A rule with `while` has no alarm; each step that does one of its acts
has its negation in the interlock, and the proof asks whether some record lets such a step be
reported all the same (`safety.misconduct`): one intersection for each step and rule.

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
Time passing is no way out either: it only ends what somebody has found out, and whoever goes on at
once needs none of it to end.  Neither are failing, nor giving up at a step that must be done.

A report opens again what waits for so long after it, and steps whose evidence it makes void.  A
step that must be done is *late* if a change by which the work goes on opens it again (the
walk-round, which anything that comes in makes void), else *early*.  A checklist closes if

- from every state each early step can be done, or can never come to apply;
- from every state its closing condition can be reached;
- from there, by changes that keep that condition and open no late step again, each late step can
  be done, or can never come to apply.

The early steps are done one after the other, then the work goes on to the closing condition, then
the late steps are done, and it closes: sound.  A question is answered whenever it is in the way,
which happens once for each.  Where this fails it may still close (another step may make the wanted
one inapplicable), so a bit for each wanted step then decides exactly, with time and failing among
the changes that clear it.

**Why finishing is quick.**  Where ring 3 holds, no forward change leads from a record that breaks
no rule to one that does.  Then, among such records, what `advance` asks of the never rules is
always met, and may be left out of the changes: an order of the changes without it is an order of
the changes with it.  So the diagrams speak of the few facts that a question turns on (some twenty
nodes), not of every rule.  Fewer changes than there are may be used to show that something can be
reached, never more.  Once it is shown that an order leads from every such record to one place
(the closing that asks the most), other things are asked from that place on: the two orders, one
after the other, are one.  Traits are the same all the way, so a question that some rigs do not
have is asked of the others.  A change of facts on which a set does not depend leads into the set
from nowhere new, and is passed over.  The last steps of the lists are asked first, since the
search goes backwards: the sets on the way stay small (186 nodes; 10,712 the other way about).
Where a rule can be broken, none of this is used.

**Walks.**  That a step can be come to is first shown by walking there (`walks`): single sets of
facts, changes of the table only, none that breaks a rule.  Such a walk is an order of events, so
what it was permitted can be reached.  Steps that no walk comes upon are asked of the diagrams.

**Budget.**  What a proof costs is counted: the nodes of all diagrams that its operations come to,
which are the same on every machine and in both forms of the library, because a set has one
diagram.  No clock has a part in a verdict.  When the budget is spent, or memory, the report says
"unproved" and is not sound.

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
