package calibrating

import (
	"time"

	"github.com/spf13/cobra"

	"nightfloor/cmd/nightfloor/console"
	"nightfloor/survey"
)

// A kind is a kind of calibration as its command shows it.
type kind struct {
	name, short, long string
	flags             func(*console.Console, *cobra.Command, *options)
}

var kinds = []kind{
	{survey.CalibrateNoise, "Own noise of every segment at every gain, into a terminator",
		`Measures the floor of every segment of the plan at every gain step, with a terminator
(50 Ω) at the receiver's input. A floor heard later through an antenna is then told from
the receiver's own. Steps marked * move too few of the converter's codes to be measured to
better than some 2.5 dB.

The same noise passes all the receiver's filters: what they take off toward the edges of
the passband is measured with it first, and taken out of all that is recorded from then on
with this receiver. Do it before you record; what is stored already stays as it is.

Nothing is stored where lines stand on the raster of broadcasters: an antenna is connected.

With calibrate level the noise figure follows: one under 0 dB is refused, and so is a run
that differs by over 1 dB from an earlier one at the same gain.`, changedFlag},
	{survey.CalibrateLevel, "What full scale is in dBm at every gain, by a generator or a noise figure",
		`Measures a generator's carrier of a known level at every gain step at which it neither
clips nor drowns: levels are then known in dBm at the receiver's input, and so are the
steps between gains, which are mere labels before. Runs at several levels add up.

    nightfloor calibrate level --plan night.toml --frequency 9.652MHz --level "-60 dBm"

The strongest carrier within 25 kHz is taken for the generator's, since the receiver's clock
may be off; where it stood is printed. Take a frequency off the broadcasters' raster of 5 kHz.
Nothing is stored where the carrier is modulated, or where lines about it stand on that
raster: an antenna is connected.

--second-level measures at another level too, best 10 dB from the first. Full scale must be
the same by both: where the higher level makes it more the receiver is compressed, and the
lower one counts. You are asked to set the generator, or a program after -- does it, which
is started with the level in dBm as its last argument, -70 for example.

Without a generator --enr takes the excess noise ratio of a noise source, which is
measured off and on (Y factor): the noise figure comes out, and full scale by it. A program
after -- turns it on and off instead of a person. It is started without a shell, with "off"
or "on" as its last argument; exit status 0 says that it is done:

    nightfloor calibrate level --plan night.toml --enr "15 dB" --yes -- /usr/local/bin/source

Without either --noise-figure takes the receiver's noise figure, and a terminator at the
input: its own noise is then k·T·F. That is as good as the figure is.

--uncertainty says how well is known what was given. With mismatch, drift and the distance
in frequency it goes into every level in dBm.

Where own noise is known, the noise figure that follows is shown. One under 0 dB is refused,
also where own noise is known only to be under the converter's steps, and so is a run that differs by over 1 dB from an earlier one at the same gain and frequency.`, levelFlags},
	{survey.CalibrateLinearity, "What an attenuator changes: outside noise, own noise, or intermodulation",
		`Measures every segment through the antenna, asks for an attenuator between antenna and
receiver, measures again at the same gains, and once more without it: what fades or drifts
meanwhile shows. Each time it makes eight sweeps, or the plan's number where that is more:
stations fade. What comes from outside falls by as much as the attenuator takes off, the
receiver's own noise not at all, products of intermodulation two or three times as much.
Own noise that calibrate noise found is subtracted first. Nothing is stored where carriers
and floors fell alike by something else than --attenuation says.

A program after -- puts the attenuator in and out instead of a person. It is started
without a shell, with "out", "in" and "out" again as its last argument; exit status 0 says
that it is done:

    nightfloor calibrate linearity --plan night.toml --attenuation "10 dB" \
        --yes -- /usr/local/bin/attenuator`,
		func(_ *console.Console, cmd *cobra.Command, o *options) {
			cmd.Use += " [-- PROGRAM ARGUMENT…]"
			o.attenuation = 10
			console.UnitVar(cmd.Flags(), &o.attenuation, "attenuation", "dB", "10", "`what` the attenuator takes off, 6 to 30 dB (default \"10 dB\")", checkAttenuation)
		}},
	{survey.CalibrateLines, "Lines that are there without an antenna",
		`Listens with a terminator in place of the antenna and keeps the lines that are there in
half of eight sweeps or more: the receiver's own, and what the feed line picks up. Nothing
is stored where an antenna seems to be connected: lines on the raster of broadcasters, or
a floor 6 dB and more over the own noise that calibrate noise found.

Have the terminator at the antenna's end of the feed line. Once at the receiver tells which
lines are the receiver's alone; do that first, for the newest run is the one that counts.`,
		func(_ *console.Console, cmd *cobra.Command, o *options) {
			cmd.Flags().StringVar(&o.at, "at", atAntenna, "where the terminator is: antenna (its end of the feed line) or receiver")
		}},
	{survey.CalibrateClock, "The clock's error, by broadcast stations",
		`Compares the carriers of broadcast stations with the raster of 5 kHz that they stand on,
or the strongest one with --frequency, where you know a station (a time signal, say), and
prints the line for the plan. Through an up-converter the raster repeats every 40 ppm: have
segments of two bands or more in the plan, three stations or more in each.

The error is that of the frequency the dongle tunes to; an up-converter's oscillator has
one of its own that cannot be told from it: together they are right for this
converter.`,
		func(c *console.Console, cmd *cobra.Command, o *options) {
			c.FrequencyVar(cmd.Flags(), &o.frequency, "frequency", 0, "`frequency` of a station that is known, as 10MHz")
			o.listen = 3 * time.Minute
			console.LengthVar(cmd.Flags(), &o.listen, "for", "`duration` of listening, as 90s (default 3m)")
		}},
}
