"""Two measured sheets as curve and friction elements, fitted by ``loop_fit.fit_family``.

The measurements lie in weldsim/data (licences and origin there); tests/reference/test_measured_loops.py makes these
numbers again and checks them, by driving the elements step by step, against what they were and were not fitted to:

* ``GRAIN_ORIENTED``: fitted to all three nested loops, because no single loop tells the others.  From the outer loop
  alone the inner ones come out twice too wide, from the outer and one inner loop the third is a third off.  Deviations
  at coercive field / area: outer loop +14 % / -13 %, middle +7 % / -8 %, inner +2 % / +9 %; tips and remanence within
  4 %.  The outer loop's deviation is the price of constant limits: its area is 1.13 times 4 H_c B_m, that of any sum of
  such elements less than 1.
* ``NON_ORIENTED``: fitted to the outer loop and the first-magnetisation curve of stack lam1.  On lam1: coercive field,
  area and remanence within 4 %; not fitted: peak field under 50 Hz sinusoidal flux 2 % from 0.2 to 1.6 T, exciting
  power 2 % above 1.4 T and 6 % from 0.3 T.  On stack lam2, not fitted: 5 %, peak field 4 %, exciting power 2 % and 7 %;
  the two stacks differ by 3 % among themselves.  Below 0.2 T the first magnetisation is up to 45 % too stiff, and loops
  from 0.7 to 1.5 T are about a fifth too narrow (53 to 60 A/m measured at 20 Hz against 45).

Not for switch-on: the first ends at 1.49 T, the second at 1.62 T.
"""

from weldsim.parts.loop_fit import FittedLoop

GRAIN_ORIENTED = FittedLoop(
    curve=(
        (0.0, 0.0),
        (0.4331, 0.0),
        (0.5028, 0.2952),
        (0.7036, 9.4284),
        (0.7955, 16.4841),
        (1.2321, 73.8626),
        (1.3952, 121.7229),
        (1.4915, 181.7043),
    ),
    stops=((3.7514, 0.03), (3.3410, 0.10463), (3.7887, 0.43125), (19.7673, 1.24518)),
)

NON_ORIENTED = FittedLoop(
    curve=(
        (0.0, 0.0),
        (0.2344, 0.0),
        (0.6412, 60.8878),
        (0.9159, 132.3380),
        (1.0914, 209.4222),
        (1.2057, 295.3224),
        (1.3045, 429.0409),
        (1.3566, 575.1531),
        (1.4088, 776.5172),
        (1.4793, 1310.9165),
        (1.5510, 2214.9458),
        (1.6175, 3409.0479),
    ),
    stops=((45.2084, 0.03), (4.1714, 1.48152), (154.5262, 1.49823)),
)
