package main

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"nightfloor/capture"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/open"
	"nightfloor/reports/result"
	"nightfloor/store"
	"nightfloor/survey"
)

type importOptions struct {
	recordingFlags
	files     []string
	database  string
	survey    string // its name, "": the one without
	antenna   string
	placement string
	bearing   float64
	turned    bool // a bearing was given
	gain      float64
	gained    bool // a gain was given
}

func newImportCommand(c *console.Console) *cobra.Command {
	var o importOptions
	cmd := &cobra.Command{
		Use:   "import FILE… --db FILE",
		Short: "Measures I/Q recordings and stores them as sweeps",
		Long: `Measures I/Q recordings and stores them as sweeps, in the order of their start
times: neighbours through one setup are one visit, and a round ends where a setup
would come a second time. A recording that is stored already is skipped.

` + recordingsHelp + console.ExitHelp,
		Args: console.SomeFiles,
		RunE: func(cmd *cobra.Command, files []string) error {
			o.files, o.turned, o.gained = files, cmd.Flags().Changed("bearing"), cmd.Flags().Changed("gain")
			return runImport(cmd.Context(), o, c)
		},
	}
	o.recordingFlags.add(cmd.Flags(), c)
	console.DatabaseVar(cmd.Flags(), &o.database)
	cmd.Flags().StringVar(&o.survey, "survey", "", "`name` of the survey that they go into, made if it is new; keeps nights apart")
	cmd.Flags().StringVar(&o.antenna, "antenna", "", "`name` of the antenna, or its setup as loop@loft:110, over what the files say")
	cmd.Flags().StringVar(&o.placement, "placement", "", "where it stood, over what the files say")
	cmd.Flags().Float64Var(&o.bearing, "bearing", 0, "where it pointed, degrees from true north, over what the files say")
	c.TimeVar(cmd.Flags(), &o.start, "start", "start `time` of the one recording, "+console.TimeForms)
	cmd.Flags().Func("gain", "the receiver's `gain` in dB, over what the files say: levels of recordings compare where it is known", func(text string) (err error) {
		o.gain, err = survey.ParseNumber(text, "dB", "20.7", true)
		return err
	})
	return cmd
}

// importDocument is the result as JSON.
type importDocument struct {
	Schema string  `json:"schema"`
	Name   *string `json:"survey_name"`
	capture.Imported
}

func runImport(ctx context.Context, o importOptions, c *console.Console) error {
	if err := o.check(c); err != nil {
		return err
	}
	if err := o.checkSetup(); err != nil {
		return err
	}
	if o.survey != "" {
		if err := survey.CheckSurveyName(o.survey); err != nil {
			return console.Usagef("--survey: %w", err)
		}
	}
	if time.Until(o.start) > 24*time.Hour {
		c.Note("--start %s lies ahead by more than a day; check the date", o.start.Format(time.RFC3339))
	}
	sources, refused, err := o.sources(c)
	if err != nil {
		return err
	}
	done := capture.Imported{Refused: []capture.Refusal{}}
	if len(sources) > 0 { // else no database is made
		if done, err = o.store(ctx, sources, c); err != nil {
			return err
		}
	}
	done.Refused = slices.Insert(done.Refused, 0, refused...) // and stays [] where there are none
	for i, r := range done.Refused {
		done.Refused[i].Why = withoutFile(r.File, r.Why)
	}
	if done.Stored > 0 {
		noteDoubts(c, done.Unplaced, contradiction(sources, o.antenna))
	}
	if err := o.show(c, done); err != nil {
		return err
	}
	return refusals(done.Refused)
}

// noteDoubts says what a person may have meant otherwise of what was stored.
func noteDoubts(c *console.Console, unplaced int, contradiction string) {
	switch {
	case unplaced == 1:
		c.Note("1 recording without a placement stands at %q; name it with --placement", capture.Unplaced)
	case unplaced > 1:
		c.Note("%s without a placement stand at %q; name it with --placement", survey.Count(unplaced, "recording"), capture.Unplaced)
	}
	if contradiction != "" {
		c.Note("%s", contradiction)
	}
}

// checkSetup tells what is wrong with the setup that the flags say. An --antenna that is written
// as a setup, loop@loft:110, says all of it.
func (o *importOptions) checkSetup() error {
	if o.turned && !(o.bearing >= 0 && o.bearing < 360) {
		return console.Usagef("--bearing %v: not in 0 ≤ bearing < 360; give degrees clockwise from true north", o.bearing)
	}
	if o.antenna != "" {
		s, err := survey.ParseSetup(o.antenna)
		const other = "--antenna %s: it names another %s; give one of them"
		switch {
		case err != nil:
			return console.Usagef("--antenna: %w", err)
		case s.Placement != "" && o.placement != "" && s.Placement != o.placement:
			return console.Usagef(other, o.antenna, "placement than --placement "+o.placement)
		case s.Bearing.Known && o.turned && s.Bearing != survey.BearingOf(o.bearing):
			return console.Usagef(other, o.antenna, fmt.Sprint("bearing than --bearing ", o.bearing))
		case s.Bearing.Known:
			o.bearing, o.turned = s.Bearing.Deg, true
		}
		o.antenna, o.placement = s.Antenna, cmp.Or(o.placement, s.Placement)
	}
	if err := cmp.Or(survey.CheckPrintable(o.antenna), survey.CheckPrintable(o.placement)); err != nil {
		return console.Usagef("import: %w; choose other names with --antenna and --placement", err)
	}
	return nil
}

// store imports the recordings into the database.
func (o *importOptions) store(ctx context.Context, sources []capture.Source, c *console.Console) (done capture.Imported, err error) {
	db, path, err := open.Database(ctx, o.database, store.Open)
	if err != nil {
		return done, err
	}
	defer db.Close()
	if err := db.Sound(ctx); err != nil {
		return done, err
	}
	o.database = path
	bar := console.NewProgress(c, "importing", len(sources))
	defer bar.End()
	importer := capture.Importer{Store: db, Segments: o.segments, Region: survey.Region(o.region), Version: version(), Survey: o.survey, Done: func(n, _ int) { bar.At(n) },
		Said: func(file, what string) { c.Note("%s: %s", file, what) }}
	return importer.Run(ctx, sources)
}

func (o importOptions) show(c *console.Console, done capture.Imported) error {
	if o.json {
		document := importDocument{Schema: "nightfloor/import/1", Imported: done}
		if o.survey != "" {
			document.Name = &o.survey
		}
		return result.WriteJSON(c.Out, document)
	}
	where, only := "the imports", ""
	if o.survey != "" {
		where, only = strconv.Quote(o.survey), " --survey "+console.Quoted(o.survey)
	}
	holds := ""
	if done.Survey != nil {
		holds = fmt.Sprintf("; setups in %s: %d, rounds: %d", where, done.Setups, done.Rounds)
	}
	err := c.Fold(c.Out, "stored %d, skipped %d (stored before), refused %d%s\n", done.Stored, done.Skipped, len(done.Refused), holds)
	if done.Survey != nil {
		c.Note("see it with: nightfloor report --db %s%s", console.Quoted(o.database), only)
	}
	return err
}

// sources opens the recordings, with what the command line says of them.
func (o importOptions) sources(c *console.Console) ([]capture.Source, []capture.Refusal, error) {
	sources, refused := openRecordings(c, o.files, o.recordingFlags)
	if !o.start.IsZero() && len(sources) > 1 {
		return nil, nil, console.Usagef("--start with %d recordings: one time cannot be the start of all; import them one by one", len(sources))
	}
	for i := range sources {
		s := &sources[i]
		s.Setup.Antenna = cmp.Or(o.antenna, s.Setup.Antenna)
		s.Setup.Placement = cmp.Or(o.placement, s.Setup.Placement)
		if o.turned {
			s.Setup.Bearing = survey.BearingOf(o.bearing)
		}
		if o.gained {
			s.Gain = survey.Gain{DB: survey.DB(o.gain), Known: true, Exact: true}
		}
	}
	return sources, refused, nil
}
