"""Where the height went: how much each corner has lost since a run, to what, and when it needs attention.

evidence   the fit told again without trust in loads nobody weighed, with sudden slips among its unknowns
chart      an alarm for the latest readings: a cumulative sum of what each run tells beyond all before it
split      height lost = spring set + load + adjuster or stack + left over
shift      which nuts and springs have shifted load from wheel to wheel
parts      one corner's parts as they are told, and its verdict
lost       what the weighed runs say that a stack has lost in length
trend      whether a spring's set goes on: not at all, straight or settling, over time or distance
forecast   when a corner leaves its tolerance
rate       whether a spring's rate has changed
next_step  the turns that bring a corner back, or what holds it out of tolerance
answer     all of it for the four corners: `sag(fit, since=None)`
"""
