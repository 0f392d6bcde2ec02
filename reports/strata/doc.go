// Package strata tells which rounds of a segment were measured in the same state of the noise
// sources around.
//
// A device that comes and goes moves the floor through one setup against that through another by
// several decibels, and with it the advantage of one setup over the other. Rounds with it and rounds
// without are then two strata: what lies between them is no scatter, and each has an advantage
// of its own.
//
// In go the floor in dB and the time of each visit, by setup and round, and the hours of the
// noise sources that are known. Choose finds the sources that matter, once for the segment; Choice.Pair
// gives the strata of two setups:
//
//  1. A known source makes strata where it moves the difference of the floors of the
//     reference and any other setup. A round in whose midst it came or went, or of which its hours do not
//     tell, is in the state that its difference of floors is like: where one setup alone hears it, only
//     that visit matters. One that is like neither does not count; Pair.Weights shares it between them.
//  2. What no known source explains shows as groups of the difference that lie far apart.
//  3. Where such a device reaches both setups, a round in which only one stands raised, and their
//     difference is not the usual one, was in the midst of its switching, and does not count.
//  4. A state that was met in one round only is none, and the round does not count.
//
// All rests on the difference of floors, of which only changes from round to round count: a gain that
// nobody knows and that stands still does no harm. One that steps makes groups, and they cost the
// advantage little; the names of such states leave open what it was. Where a round's gain does not
// compare with the others of its setup there is no difference: it is then in no group, and only
// sources make its stratum. The advantage itself is never looked at, so that no stratum is made of
// its scatter. STATISTICS.md 4.4.
package strata
