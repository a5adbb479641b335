"""The loop closed: read, ask, turn, read again, on simulated trucks whose truth nobody tells the tool.

cases    trucks with targets they can reach
methods  what to turn, from the readings alone: the tool, a rule of thumb, the springs' list, and one who knows
ceiling  the most that can be got out of the readings: every law and every prior known, all of it carried through
loop     two adjustments on every truck by every method
report   the figures as tables

springs  the same for springs: chosen, put on, judged, read again, adjusted

Run it: python -m tests.study --trucks 200 --seed 1
"""
