package turn

import (
	"context"
	"fmt"
	"strings"

	"nightfloor/capture"
	"nightfloor/survey"
)

var (
	_ capture.Rewirer = Chain(nil)
	_ capture.Rewirer = (*Person)(nil)
	_ capture.Rewirer = (*Command)(nil)
)

// Rewire lets those of the steps that can bring the wiring into the asked state.
func (c Chain) Rewire(ctx context.Context, was, asked survey.Wiring) (survey.Wiring, error) {
	for _, step := range c {
		if one, ok := step.(capture.Rewirer); ok {
			return one.Rewire(ctx, was, asked)
		}
	}
	return asked, nil
}

// Rewire is done by the program that is started next: it gets the asked wiring, and its exit status 0 says that
// this is in place, too.
func (c *Command) Rewire(_ context.Context, _, asked survey.Wiring) (survey.Wiring, error) {
	c.Wiring = asked
	return asked, nil
}

// environment gives what a program is told of the wiring, "" for what the plan does not say.
func environment(w survey.Wiring) (env []string) {
	for _, part := range survey.WiringParts {
		env = append(env, "NIGHTFLOOR_"+strings.ToUpper(part.Key)+"="+part.Of(w))
	}
	return env
}

// Rewire asks for the wiring once. Where nobody answers, or the operator leaves it, it is what it was.
func (p *Person) Rewire(ctx context.Context, was, asked survey.Wiring) (survey.Wiring, error) {
	p.listen(ctx)
	switch {
	case ctx.Err() != nil:
		return was, ctx.Err()
	case p.ended != nil:
		return was, p.ended
	}
	done := false
	answered, err := p.put(ctx, fill(rewiring(was, asked)+", and press Enter.")+fill("(Or s to leave it as it is; ? for cautions.)"), asked.String(), func(typed string) bool {
		if typed != "" && typed != "s" {
			p.say(fill("That is no answer here. Press Enter, or type s or ?."))
			return false
		}
		done = typed == ""
		return true
	})
	switch {
	case err != nil:
		return was, err
	case done:
		return asked, nil
	}
	left := "left as it is: " + was.String()
	if was == (survey.Wiring{}) {
		left = "nobody said how it stands, and the data will not say"
	}
	if !answered {
		left = "nobody answered for " + durationText(p.Plan.Change.Patience) + "; " + left
	}
	p.say(fill("Going on: " + left + "."))
	return was, nil
}

// rewirings say what to do to bring a part of the wiring into a state.
var rewirings = map[string]string{
	"feed_lines straight": "put the feed lines straight, each antenna's to its own end of the switch",
	"feed_lines crossed":  "cross the feed lines, each antenna's to the other's end of the switch",
	"idle open":           "leave the antennas that are not heard open at the switch",
	"idle 50 ohm":         "end the antennas that are not heard in 50 ohm at the switch",
	"idle shorted":        "short the antennas that are not heard at the switch",
	"chokes in":           "put the chokes on the feed lines",
	"chokes out":          "take the chokes off the feed lines",
}

// rewiring says what to do by hand: what differs from what was, or all where nothing does, as at the beginning.
func rewiring(was, asked survey.Wiring) string {
	var steps []string
	for _, part := range survey.WiringParts {
		if state := part.Of(asked); state != "" && (state != part.Of(was) || asked == was) {
			steps = append(steps, rewirings[part.Key+" "+state])
		}
	}
	text := strings.Join(steps, ", ")
	if was != asked && was != (survey.Wiring{}) {
		return "Now " + text
	}
	return fmt.Sprintf("%s%s", strings.ToUpper(text[:1]), text[1:])
}
