"""May I do this now, with the tool in my hand? One answer before each act that cannot be undone.

    wiped 09:10, gas read 0 % at 08:40, now 09:15, heat on   → no: the reading is from before the solvent; measure it

One file per act or group of acts. Each lists its points: a fact, what state it is in, and one move that is true. A fact that
was measured and is bad says *correct*, one that is only not there says *measure*. ``before`` asks one act, ``may`` all of them.
"""
