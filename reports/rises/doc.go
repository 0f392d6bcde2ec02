// Package rises finds when the floor was raised, and by what: a device that was switched, noise
// that bears a sign of interference, or the ionosphere at night.
//
// The floor through each setup segment is a series of points, a round each, compared with itself
// alone. A step in most segments at one instant is a device switching; a stretch that stands over
// the series' lower decile is broadband interference where a sign of it goes with the stretch,
// and the ionosphere's where it is dark and none does. Each stretch is told once.
package rises
