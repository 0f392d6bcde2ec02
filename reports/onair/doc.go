// Package onair compares setups on amateur bands by what is on the air there: transmissions of
// seconds and minutes that stand nowhere in particular, so that no line can be followed from
// round to round.
//
// New finds the amateur bands of a selection; Segments names those whose stored spectra are
// wanted; Add takes them one by one. A band is cut into slots of 2.4 kHz. What one slot holds
// over the noise about it, linear and with the noise subtracted, is its excess; a visit's is the
// mean over its readings. Two setups in one round hear other transmissions at other times, but
// through the better one all of them stand higher over the noise by the same ratio, and so do
// the upper quantiles of the excess over the slots. Compare gives their difference in dB, one
// figure a round, whose mean is the advantage.
//
// What the house makes must not count as a transmission: slots that hold a line of a comb or a
// hump that was found in the round are left out for all setups, and so are those that are never
// quiet through some setup. STATISTICS.md 10 has the method and what it achieves.
package onair
