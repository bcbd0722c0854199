"""What an owner might write into a list of his own.  All written before the patterns were widened.

`TRIED` are those the patterns were made with, among them the eight that an owner had found to be
proved; `HELD_OUT` were looked at once, after the patterns stood.  `NO_ORDERS` are looks, cautions and
work that moves nothing.  Of our own making, all by one author, in the trade's usual words; no source.
"""

from __future__ import annotations

TRIED = (
    "Drive the rig off.",
    "Pull away.",
    "Back the trailer in.",
    "Move the trailer.",
    "Plug in the cord.",
    "Open the black valve.",
    "Tow the trailer to the gate.",
    "Roll the trailer back a foot.",
    "Push the trailer forward by hand.",
    "Then drive away.",
    "Reverse into the site.",
    "Back it in.",
    "Lights on, then pull onto the road.",
    "Move the truck forward a foot.",
    "Plug the cord in at the post.",
    "Pull the plug.",
    "Connect the shore power.",
    "Open both dump valves.",
    "Take the chocks away.",
    "Unhitch the trailer.",
    "Take the chains off.",
    "Drive to the dump station.",
    "Head out.",
    "Start rolling.",
)

HELD_OUT = (
    "Drive the trailer up to the gate.",
    "Pull out of the site.",
    "Back the camper into the spot.",
    "Move the rig forward two feet.",
    "Shift the trailer a foot to the left.",
    "Haul the trailer out.",
    "Let the trailer roll back.",
    "Inch forward until the wheels touch the log.",
    "Back up until the tires reach the board.",
    "Creep ahead ten feet.",
    "Hit the road.",
    "Leave the campground.",
    "Reverse the rig, slowly.",
    "Walk round it, then drive off.",
    "Back the truck up a little.",
    "Plug the trailer in.",
    "Put the plug in the outlet.",
    "Hook up the power.",
    "Disconnect the shore cord.",
    "Take the cord out of the pedestal.",
    "Pull the gray valve open.",
    "Empty the black tank.",
    "Remove the wheel chocks.",
    "Pull the chocks.",
    "Uncouple the trailer.",
    "Drop the trailer.",
)

NO_ORDERS = (
    "Do not move the trailer.",
    "Never back in alone.",
    "Before you pull away: nobody near?",
    "Look before you back up. Nobody there?",
    "Ready to drive off?",
    "Pull the trailer's door shut.",
    "Roll the awning mat up, and put it away.",
    "Leave the gate as it was.",
    "Take the trailer's papers along.",
    "Is the trailer plugged in?",
    "Feel the plug. Cool?",
    "Are both dump valves shut?",
    "Push the black valve shut.",
    "Back inside: shut the window.",
    "Move the chairs off the mat.",
    "Pull off the cover.",
    "The truck is out of the way?",
    "Look at the chocks. Tight?",
    "Set the mast camera up.",
    "Plug the light cord in.",
    "Drive nails into the frame board.",
    "Open the valve of the air line.",
)
