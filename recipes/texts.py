"""What the synthesised speakers say: single words, word strings, orders, readings, sentences.

Everything is drawn from a seeded generator, so that the same seed gives the same texts.  The
orders and responses are those of the shipped language file and of checklists in general; the
word strings come from the CMU pronouncing dictionary, so that every phone is met in many places
and phrases that nobody thought of are recognised as well.
"""

from __future__ import annotations

import random

ORDERS = """done | all done | it's done | that's done | finished | complete | check | checked |
skip | skip it | skip this one | skip that | next | next step | go on | repeat | say again | say
that again | once more | again | more detail | more | tell me more | details | explain | why |
why not | how come | what for | a problem | problem | there is a problem | I have a problem |
something is wrong | it does not work | take back | take it back | take that back | undo | undo
that | that was a mistake | correction | what is left | what's left | what remains | what is open
| pause | hold on | wait | wait a moment | stop | stand by | resume | carry on | continue | I'm
back | go ahead | note | make a note | take a note | time so far | how long so far | how much
time | time | help | help me | what can I say | commands | finish for now | stop for now | that's
all for now | end here | end for today | that is right | that's right | right | correct |
confirmed | confirm | affirmative | that is wrong | that's wrong | wrong | incorrect | negative |
yes | yes it is | yep | yeah | no | no it's not | nope | not yet | almost | ready | I am ready |
not ready | okay | start | begin | cancel | louder | quieter | slower | faster | where am I |
which step | go back | go to water | go to power | go to the hitch | go to level | go to leveling
| go to sewer | go to awning | go to the coupler | go to safety chains | go to chocks | go to
stabilizers | go to walk around | go to lights | go to brakes | go to propane | go to gas | go to
fridge | go to batteries | go to antenna | go to mast | go to guy lines | go to the outlet |
chocks set | chocks are set | breaker is off | breaker off | breaker is on | chains crossed and
hooked | chains off | path is clear | coupler locked | coupler is locked | coupler open | valves
shut | valves are shut | area clear | area is clear | hose is tight | hose is off | pin is in |
pin is out | lights work | brakes work | gas is off | gas is on | cable is off | cable connected
| breakaway cable connected | jack is up | jack is down | stabilizers up | stabilizers are up |
steps are in | awning is in | mast is down | doors are locked | windows shut | power is off |
power is off at the post | plug is out | nobody behind | nobody in between | all clear | clear
behind | wheels chocked | hitch latched | hitch locked | ball is locked | tire pressure good |
weight on the ball | sway bar on | blocks are away | hoses stowed | drain closed | cap is on |
pump is off | heater off | fridge locked | roof vents shut | ready to pull | ready to tow |
that is done | step complete | skip this | leave it for later | repeat that | come again | explain
that | which rule applies | why is that | i have a problem | take me to | jump to | note this |
enough for today | affirm | no it is not | no change it | not correct | never mind | cancel that |
forget it | slow down | speak slower | speed up | speak faster | keep it short | shorter | be
brief | full wording | longer | in full | louder please | softer | softer please | where are we |
remind me in | wake me in | hold | hold it | hold on | hold on | hold on a second | all done | all
done | all done here | old one | all on | all gone | call done | hold that"""

NOUNS = """chocks wheels breaker chains coupler hitch ball pin latch jack stabilizers steps
awning mast hose valve valves water power cable cord plug post outlet pedestal gas propane bottle
heater fridge pump tank drain cap sewer bumper tongue axle brakes lights tires trailer truck gate
path area door doors windows vent vents roof antenna batteries battery solar panel inverter
ladder bikes rack tarp ropes guy lines pegs stakes mat level blocks boards ramp wedge leveler
switch fuse meter tester regulator filter line fire grill table chairs camera traps sensor box
case kit bag first aid"""

STATES = """set off on in out up down open shut closed locked unlocked latched hooked crossed
connected disconnected clear tight loose stowed checked empty full safe secure level chocked
plugged unplugged good ready done away there dry clean folded tested working cold warm attached
released lowered raised tied"""

STARTS = """I think | well | so | and then | maybe | please | could you | he said | she said | we
are | they were | it was | there is | there was | I want to | do you know | can I get | let me |
you should | did you see | I guess | the | my | this | that | those | in the | on the | for the |
before the | after that | when the | because of | I would like | give me | look at | where is the"""

MIDDLES = """morning | dinner | river | weather | children | dog | coffee | sugar | milk | large
| small | medium | hot | cold | bear | bird | deer | owl | forest | road | mountain | radio |
phone | kitchen | window | garden | school | money | letter | party | tonight | tomorrow |
yesterday | later | nobody | everybody | something | anything | very nice | really bad | a long
way | a bit | too much | not enough | over there | next door | at home | by the lake | with you |
without me | to the store | of course"""

UNITS = """volts | volt | P S I | P S I | pounds per square inch | amps | amperes | amp | degrees |
inches | inch | pounds | pound | percent | feet | foot | kilos | liters | gallons | miles |
meters | centimeters | hours | minutes | watts | bar"""

LETTERS = list("ABCDEFGHIJKLMNOPQRSTUVWXYZ")

ONES = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
TEENS = [
    "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen",
    "eighteen", "nineteen",
]
TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]


def listed(block: str) -> list[str]:
    """The entries of a block above that are parted by bars."""
    return [" ".join(entry.split()) for entry in block.split("|")]


def below_hundred(number: int) -> str:
    """0 to 99 in words."""
    if number < 10:
        return ONES[number]
    if number < 20:
        return TEENS[number - 10]
    return TENS[number // 10 - 2] + (" " + ONES[number % 10] if number % 10 else "")


def cardinal(number: int, joined: bool) -> str:
    """0 to 9,999 in words, with or without "and"."""
    words = []
    if number >= 1000:
        words.append(ONES[number // 1000] + " thousand")
    if number % 1000 >= 100:
        words.append(ONES[number % 1000 // 100] + " hundred")
    if number % 100 or not words:
        words.append(("and " if joined and words else "") + below_hundred(number % 100))
    return " ".join(words)


def reading(rng: random.Random) -> str:
    """A number as people say one on a job, with a unit two times out of three."""
    kind = rng.random()
    small = rng.randint(0, 130)
    if kind < 0.22:
        words = rng.choice(ONES)
    elif kind < 0.38:
        words = below_hundred(rng.randint(0, 99))
    elif kind < 0.52:
        words = cardinal(rng.randint(100, 9999), rng.random() < 0.5)
    elif kind < 0.62:
        words = f"{rng.choice(ONES[1:])} {below_hundred(rng.randint(10, 99))}"
    elif kind < 0.75:
        digits = ONES + ["oh", "niner", "nine"]
        words = " ".join(rng.choice(digits) for _ in range(rng.randint(2, 5)))
    elif kind < 0.83:
        tail = " ".join(rng.choice(ONES) for _ in range(rng.choice((1, 1, 2))))
        words = f"{cardinal(small, False)} point {tail}"
    elif kind < 0.90:
        part = rng.choice(["a half", "a quarter", "three quarters", "one half", "one quarter"])
        words = f"{cardinal(small, False)} and {part}"
    elif kind < 0.94:
        words = rng.choice(["a half", "half", "a quarter", "three quarters", "a quarter of an"])
    else:
        words = rng.choice(["minus ", "negative ", "about ", "plus "]) + below_hundred(small % 100)
    if rng.random() < 0.65:
        words += " " + rng.choice(listed(UNITS))
    return words


def short(rng: random.Random) -> str:
    """One number word or a few, or letters: what is said fast and has no neighbours to help."""
    kind = rng.random()
    if kind < 0.45:
        return rng.choice([*ONES, *ONES, *ONES, "oh", "niner", *TEENS, *TENS])
    if kind < 0.60:
        return " ".join(rng.choice(ONES) for _ in range(rng.randint(2, 4)))
    if kind < 0.72:
        few = ("hundred", "thousand", "half", "quarter", "quarters", "point", "minus", "third",
               "eighth", "tenths", "sixteenths", "percent", "volts", "amps", "degrees", "inches",
               "feet", "pounds")  # fmt: skip
        return rng.choice(few)
    if kind < 0.85:
        return " ".join(rng.choice(LETTERS) for _ in range(rng.choice((1, 1, 2, 3, 3, 4))))
    return below_hundred(rng.randint(0, 99)) + " P S I"


def sentence(rng: random.Random, words: list[str]) -> str:
    """Speech that is no order, though it may contain one."""
    parts = [rng.choice(listed(STARTS))]
    for _ in range(rng.randint(1, 3)):
        parts.append(
            rng.choice(
                (
                    rng.choice(listed(MIDDLES)),
                    rng.choice(NOUNS.split()),
                    rng.choice(listed(ORDERS)),
                    rng.choice(words),
                    rng.choice(listed(STARTS)),
                )
            )
        )
    return " ".join(parts)


def utterance(rng: random.Random, words: list[str]) -> str:
    """One text; `words` are the dictionary's.  About 1 to 8 words long."""
    kind = rng.random()
    if kind < 0.33:
        return " ".join(rng.choice(words) for _ in range(rng.choice((1, 1, 2, 2, 3, 3, 4, 5))))
    if kind < 0.53:
        return rng.choice(listed(ORDERS))
    if kind < 0.60:
        link = rng.choice((" ", " ", " is ", " are "))
        return rng.choice(NOUNS.split()) + link + rng.choice(STATES.split())
    if kind < 0.76:
        return reading(rng)
    if kind < 0.91:
        return short(rng)
    return sentence(rng, words)
