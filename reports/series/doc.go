// Package series tells how well the mean of a short series of rounds is known whose errors are
// correlated in time.
//
// A pair of setups gives one figure a round, y in dB, whose mean is the advantage of one over the
// other. Rounds next to each other are alike: fading and the drift of one setup against another
// last from one to the next. How much alike cannot be told from some twenty rounds, so no
// correlation is chosen: each y is the mean of its stratum, plus an error of which one part decays
// from round to round by ρ and the other has no memory, and all of a grid of ρ and shares are
// weighed by how well they explain what was seen.
//
//	Series             values, times and strata of one pair, round by round
//	Of                 fits it at every point of the grid
//	Pool               weighs the points by all pairs of setups together
//	Fit.By, Fit.Only   the distribution of the mean: over all strata, or of some of them
//	Mixture            that distribution: a mean, a 95 % interval, probabilities
//
// Upon mixtures rest MayBeBest, which setups may be the best, and BestShares, how often each
// would be the first. DriftTooSlow tells when so few rounds cannot show what lasts longer than
// they do, and Series.Nights takes the night as the unit.
//
// What a stratum is, and which rounds are left out, is told by others. Formulas and coverage:
// STATISTICS.md 4.
package series
