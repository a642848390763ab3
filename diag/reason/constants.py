"""Every figure that the reasoning leans on and no machine file states, each with its reason."""

SLIP = 0.02
"""Chance that an observation is any state at random instead of the true one: wear, a sticky lamp, a sentence misheard.
It keeps one wrong fact from ruling a cause out for good. It belongs to each observation and not to the state behind it:
were a hidden supply itself to slip, a single slip would explain every lamp that is dark for want of it."""

UNLISTED_TITLE = "Something that is not in this file"
UNLISTED_PRIOR = 0.03
"""Prior of a cause that nobody wrote down."""
UNLISTED_OFF_NORMAL = 0.2
"""As far as nothing else is known, it has each indication off its normal state with this chance, spread evenly."""
UNLISTED_COUNTS = 30
"""A cause that nobody wrote down is like one of the listed ones, as often as that one comes, or like none, with the
weight of this many of them. Like none, it shows what the listed ones show on average, and the even spread with the same
weight: it moves what they move, and leaves alone what hardly any of them touches."""
UNLIKE = 0.2
"""Like one of them, it shows at each indication, with this chance, what it would show were it like none: the chance of
the even spread. Measured on a machine of 117 causes by `diag try --without`: such a cause is noticed in 89 stops of
100; were it always like none, in 65; by the even spread alone, in 40."""
FAINT = 1e-12
"""What it is like with less than this share of its belief is left out of what it would show next: far below what any
figure shown can tell, and few of the listed causes are above it once a fact is known."""

WRONG_MINUTES = 240.0
"""Scoring a diagnosis: minutes lost by acting on the wrong cause, half a shift (common practice). Only the measurement
of accuracy uses it; advice at a machine weighs remedies and the call instead."""

JOINT_LIMIT = 50_000
"""Most joint states of indications that others follow, in one connected part; beyond it a file is refused, since exact
sums would no longer fit between two keys."""

OUTCOME_LIMIT = 64
"""Most joint outcomes of one check with several answers; beyond it the answers that tell least are left out."""

NEGLIGIBLE = 1e-4
"""Outcomes of a check rarer than this are taken to change nothing: at a call of 90 minutes that is half a second."""

TYPICAL_DRAWS = 48
"""Draws of typical facts against which surprise is measured; the standard error is then below half a bit in use."""
EXPLAINS = 0.05
"""A listed cause that holds at least this share of what the likeliest listed one holds may be the explanation."""
CONTENDERS = 4
"""Of those, this many under which the facts are likeliest are looked at; the others explain them worse."""
UNEXPLAINED = 4.0
"""Bits of surprise above which no single cause explains the facts. A fact that only a slip explains costs six and more,
log2(2 / SLIP) for two states, and facts as usual are rarely more than two above."""
HELPS = 3.0
"""A fact is worth looking at again when leaving it out takes at least this many bits off the surprise."""
AGAIN = 3
"""Facts that are left out in turn to see how much that helps: more would not be looked at again."""

TWO_CAUSES = 0.02
"""Share of stops in which two causes stand at once. By coincidence alone, a few tens of stops a year with each cause
standing for an hour or two, it is about one in a hundred; a lamp or contact that failed unseen before the stop, and two
things broken by one blow, make it about one in fifty (common practice; no machine file states it)."""
PAIRED_WITH = 24
"""Pairs are scored with at least one of this many best single causes in them. The better of two true causes explains
its own facts, and so stands well above those that explain none."""

AHEAD_FIRST = 20
"""First moves that are followed to the end by the one-step rule while the person reads."""
AHEAD_FEW = 3
"""Looks that are followed at each step by dynamic programming, where that comes to an end in time: the best three lie
0.2 % above the optimum on average on noiseless tables (`diag measure advice` prints its own)."""
AHEAD_SHARE = 0.99
"""Looking ahead weighs the causes that hold this share of the belief at each step. What is left out is the same for all
moves that are compared."""
AHEAD_WORTH = 0.25
"""Minutes: the one-step rule that is followed leaves a look that saves less. Nobody walks to a cabinet for 15 s."""
AHEAD_CUT = 0.02
"""What comes about with less than this chance is not followed any further."""
AHEAD_GAIN = (1.0, 0.05)
"""Minutes, and share of what is left: less is no reason to change what was advised at first."""

FINISH = 1.0
"""Minutes that the rest of a begun check must save to be finished before anything else; below it a line of lamps would
be read out to its end for nothing."""
