package page

import "nightfloor/reports/doubt"

// A doubtView is what is held against a figure, and what it means for the reader
// where that does not go without saying. The meaning is shown where the page
// says the like for the first time, and elsewhere when asked for.
type doubtView struct {
	Text, Meaning string
	Open          bool
}

// explained are the doubts that need a word more.
var explained = map[doubt.Kind]string{
	doubt.LocalLines: "Broadcasters stand on multiples of 5 kHz. These lines do not, so they are taken for interference " +
		"made nearby, by a supply, a lamp or a charger, and were not used to compare the setups. Many of them tell of a noisy house: " +
		"look for them in the pictures below, and at which hours they come and go; what runs in just those hours is the first suspect.",
	doubt.CombLines: "A switching supply has lines at all multiples of one frequency. These stand where such lines stand, move with them, and " +
		"say nothing of how well distant stations are heard. The supplies are under Noise sources.",
	doubt.UnprovenLines: "Broadcasters stand on multiples of 5 kHz; in other bands a steady line may be a clock or a supply in the house as well as a " +
		"transmitter. Lines were used only where their frequency stood still to a millionth and their level rose and fell from round to round, " +
		"each in its own way, as what comes by the ionosphere does.",
	doubt.UnderNoise: "So weak a carrier gives no figure of its own, only that the difference is at least so large. " +
		"How far it goes beyond that is reckoned from the stronger carriers and from how much levels fade. One among many " +
		"changes little; where such carriers are a large part, take the advantage as rough. More rounds help.",
	doubt.SlowDrift: "The floors through the setups wandered against each other over hours, and more rounds of the same night say the same twice. " +
		"What moved them is seldom a setup: look at Noise sources, and record another night.",
	doubt.SomeRounds:       someRounds,
	doubt.ManyInSomeRounds: someRounds,
	doubt.Overloaded:       "The receiver was driven too hard in them. If they are many, record with a lower gain or a filter.",
}

const someRounds = "Only rounds in which both were measured compare them. The others are left out, for instance where a reading was " +
	"overloaded; where they are many, see Quality below."

// doubtsOf writes doubts with this page's names, each with its meaning. What a doubt is about,
// where it does not say so itself, goes before it.
func doubtsOf(doubts []doubt.Doubt, about string, n *names) []doubtView {
	var out []doubtView
	for _, d := range doubts {
		meaning := explained[d.Kind]
		sentence := about + d.String()
		if about != "" || len(d.About) == 0 { // names stay as they are
			sentence = upper(sentence)
		}
		out = append(out, doubtView{Text: sentence, Meaning: meaning, Open: !n.explained[d.Kind]})
		n.explained[d.Kind] = true
	}
	return out
}
