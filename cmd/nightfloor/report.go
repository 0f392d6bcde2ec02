package main

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/open"
	"nightfloor/cmd/nightfloor/output"
	"nightfloor/reports"
	"nightfloor/reports/input"
	"nightfloor/reports/onair"
	"nightfloor/reports/page"
	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/reports/waterfall"
	"nightfloor/store"
	"nightfloor/store/files"
	"nightfloor/survey"
)

type reportOptions struct {
	input.Options
	survey   string // number or name; "": all
	word     string // which table; "": a summary of all
	database string
	format   string
	html     string
	force    bool
}

// reportTables are the tables by the words that ask for them: which results each needs, and
// which it shows.
var reportTables = map[string]struct {
	asked reports.Asked
	of    func(*result.Report) any
}{
	"rank":          {reports.Asked{Rank: true}, func(r *result.Report) any { return r.Rank }},
	"floor":         {reports.Asked{Floor: true}, func(r *result.Report) any { return r.Floor }},
	"bearings":      {reports.Asked{Bearings: true}, func(r *result.Report) any { return r.Bearings }},
	"noise-sources": {reports.Asked{Noise: true}, func(r *result.Report) any { return r.Noise }},
	"quality":       {reports.Asked{Quality: true}, func(r *result.Report) any { return r.Quality }},
	"": {reports.All, func(r *result.Report) any { // the summary
		return summaryDocument{"nightfloor/summary/1", r.Rank, r.Floor, r.Bearings, r.Noise, r.Quality}
	}},
}

// reportWords are the words of reportTables in the order of their listing.
var reportWords = []string{"rank", "floor", "bearings", "noise-sources", "quality"}

func newReportCommand(c *console.Console) *cobra.Command {
	var o reportOptions
	cmd := &cobra.Command{
		Use:   "report [rank|floor|bearings|noise-sources|quality]",
		Short: "Ranks the setups, shows floors by the hour and noise sources, says what speaks against the data",
		Long: `Makes a report of what is stored. Without a word, a summary of all; with one:

  rank           setups by signal-to-noise ratio against the reference setup
  floor          noise floors by the hour
  bearings       floor, carriers and noise sources by the bearing of an antenna that was
                 turned, and their nulls
  noise-sources  what the house radiates: what it looks like, its hours, its strength
                 through each setup
  quality        what each survey holds, and what speaks against it

--html FILE writes the whole report as one page that needs nothing else.
SETUP is ANTENNA[@PLACEMENT[:BEARING]].` + "\n" + console.ExitHelp,
		Args:      oneWord,
		ValidArgs: reportWords,
		RunE: func(cmd *cobra.Command, words []string) error {
			if len(words) > 0 {
				o.word = words[0]
			}
			return runReport(cmd.Context(), o, c)
		},
	}
	f := cmd.Flags()
	console.DatabaseVar(f, &o.database)
	f.StringVar(&o.format, "format", "table", "table, json or csv")
	f.StringVar(&o.html, "html", "", "write the whole report as a page to this file, or over an earlier page")
	console.ForceVar(f, &o.force)
	f.StringVar(&o.survey, "survey", "", "only the survey of this `number` or name (see report quality; default: all, but simulated ones only where there are no real ones)")
	c.TimeVar(f, &o.From, "from", "only sweeps from this `time` on, "+console.TimeForms)
	c.TimeVar(f, &o.To, "to", "only sweeps before this `time`, "+console.TimeForms)
	f.StringVar(&o.Segment, "segment", "", "only the segment of this name, or with these edges: 31m, 9400-9900")
	f.StringVar(&o.Reference, "reference", "", "setup that the others are compared with")
	return cmd
}

// oneWord wants no argument or a known word.
func oneWord(cmd *cobra.Command, args []string) error {
	if len(args) > 1 {
		return console.Usagef("report %s: one table at a time; name one of %s, or none for a summary of all", strings.Join(args, " "), strings.Join(reportWords, ", "))
	}
	if len(args) == 1 && !slices.Contains(reportWords, args[0]) {
		return console.Usagef("report %s: no such table in this release; there are %s", strings.Join(args, " "), strings.Join(reportWords, ", "))
	}
	return nil
}

func runReport(ctx context.Context, o reportOptions, c *console.Console) error {
	if err := o.check(); err != nil {
		return err
	}
	db, _, err := open.Database(ctx, o.database, store.OpenReadOnly)
	if err != nil {
		return err
	}
	defer db.Close()
	html := pageFile(o.html, db.Path(), o.force)
	if o.html != "" {
		if err := html.Check(); err != nil {
			return err
		}
	}
	if o.Survey, err = open.Survey(ctx, db, o.survey); err != nil {
		return fmt.Errorf("report on %s: %w", db.Path(), err)
	}
	report, notes, err := loadReport(ctx, db, o.Options, reportTables[o.word].asked, o.html != "")
	for _, note := range notes {
		c.Note("%s", note)
	}
	if err != nil {
		return err
	}
	if o.html != "" {
		if err := writePage(html, report); err != nil {
			return err
		}
		c.Note("wrote %s", o.html)
		return nil
	}
	return o.show(c, report)
}

// check tells what is wrong with the command line.
func (o reportOptions) check() error {
	switch {
	case !slices.Contains([]string{"table", "json", "csv"}, o.format):
		return console.Usagef("--format %s: not known; choose table, json or csv", o.format)
	case o.format == "csv" && o.word == "" && o.html == "":
		return console.Usagef("--format csv: a summary is not one table; name one: %s", strings.Join(reportWords, ", "))
	case o.html != "" && (o.word != "" || o.format != "table"):
		return console.Usagef("--html writes the whole report: leave the word and --format out")
	case !o.From.IsZero() && !o.To.IsZero() && !o.From.Before(o.To):
		return console.Usagef("--to %s lies before --from %s, or on it; exchange them", survey.LocalTime(o.To), survey.LocalTime(o.From))
	}
	if o.Reference != "" {
		if _, err := survey.ParseSetup(o.Reference); err != nil {
			return console.Usagef("--reference: %w", err)
		}
	}
	return nil
}

// summaryDocument is the summary of all as JSON.
type summaryDocument struct {
	Schema   string              `json:"schema"`
	Rank     result.Rank         `json:"rank"`
	Floor    result.FloorTable   `json:"floor"`
	Bearings result.Bearings     `json:"bearings"`
	Noise    result.NoiseSources `json:"noise_sources"`
	Quality  result.Quality      `json:"quality"`
}

// show prints what was asked for.
func (o reportOptions) show(c *console.Console, r *result.Report) error {
	if o.word == "" && o.format == "table" {
		return text.WriteSummary(c.Out, *r, time.Local, c.Width())
	}
	answer := reportTables[o.word].of(r)
	switch o.format {
	case "json":
		return result.WriteJSON(c.Out, answer)
	case "csv":
		return text.WriteCSV(c.Out, answer)
	}
	return text.WriteTable(c.Out, answer, time.Local, c.Width())
}

// loadReport reads the rows that the options select and makes the results that are asked for.
// Pictures are made for a page only: they need every spectrum.
func loadReport(ctx context.Context, db *store.Store, opts input.Options, asked reports.Asked, pictures bool) (*result.Report, []string, error) {
	in, err := loadRows(ctx, db, filterOf(opts))
	if err != nil {
		return nil, nil, err
	}
	if len(in.Sweeps) == 0 {
		// Only all that is stored tells which option is at fault, or which segment
		// was meant.
		if in, err = loadRows(ctx, db, store.Filter{}); err != nil {
			return nil, nil, err
		}
		if opts, err = input.Refine(in, opts); err != nil {
			var notes []string
			for _, d := range input.ImpossibleDoubts(in.Impossible) {
				notes = append(notes, d.String())
			}
			return nil, notes, fmt.Errorf("report on %s: %w", db.Path(), err)
		}
	}
	selected, err := input.Select(in, opts)
	if err != nil {
		return nil, selected.Notes, fmt.Errorf("report on %s: %w", db.Path(), err)
	}
	air, err := onAir(ctx, db, selected, filterOf(opts), asked)
	if err != nil {
		return nil, selected.Notes, err
	}
	report := reports.NewReport(selected, air, asked, opts.Seed, time.Local)
	report.Version, report.Made = version(), time.Now().UTC()
	if pictures {
		err = addPictures(ctx, db, selected, filterOf(opts), report)
	}
	return report, selected.Notes, err
}

func filterOf(opts input.Options) store.Filter {
	return store.Filter{Survey: opts.Survey, From: opts.From, To: opts.To, Segment: opts.Segment}
}

// loadRows reads all surveys, gaps, events, visits and calibrations, and the sweeps that filter means.
func loadRows(ctx context.Context, db *store.Store, filter store.Filter) (in input.Input, err error) {
	if in.Surveys, err = db.Surveys(ctx); err != nil {
		return in, err
	}
	if in.Calibrations, err = db.Calibrations(ctx); err != nil {
		return in, err
	}
	if in.Events, err = db.Events(ctx, 0); err != nil {
		return in, err
	}
	if in.Visits, err = db.Visits(ctx, 0); err != nil {
		return in, err
	}
	if in.Gaps, err = db.Gaps(ctx, 0); err != nil {
		return in, err
	}
	known, lost := map[int64]bool{}, map[int64]int{}
	for _, s := range in.Surveys {
		known[s.ID] = true
	}
	err = db.Sweeps(ctx, filter, func(s *survey.Sweep) error {
		if known[s.Survey] {
			in.Sweeps = append(in.Sweeps, s)
		} else { // whether it was simulated is not known
			lost[s.Survey]++
		}
		return nil
	})
	in.Impossible = db.LeftOut()
	for id, n := range lost {
		in.Impossible = append(in.Impossible, survey.LeftOut{Survey: id, Table: "sweeps", Rows: n})
	}
	return in, err
}

// onAir gives what the stored spectra say of what is on the air of amateur bands, nil where it is not asked for.
func onAir(ctx context.Context, db *store.Store, in input.Selection, filter store.Filter, asked reports.Asked) (*onair.Air, error) {
	if !asked.Rank {
		return nil, nil
	}
	air := onair.New(in)
	for _, filter.Segment = range air.Segments() {
		err := db.Spectra(ctx, filter, func(reading int64, s *survey.Spectrum) error {
			air.Add(reading, s)
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return air, nil
}

// addPictures makes the pictures of time against frequency of the report's rows.
func addPictures(ctx context.Context, db *store.Store, in input.Selection, filter store.Filter, report *result.Report) error {
	pictures := waterfall.NewPictures(in)
	err := db.Spectra(ctx, filter, func(reading int64, spectrum *survey.Spectrum) error {
		pictures.Add(reading, spectrum)
		return nil
	})
	if err != nil {
		return err
	}
	made, doubts := pictures.Made()
	left := slices.DeleteFunc(db.LeftOut(), func(l survey.LeftOut) bool { return l.Table != "spectra" })
	report.Pictures, report.Doubts = made, append(append(report.Doubts, doubts...), input.ImpossibleDoubts(left)...)
	return nil
}

// pageFile is the file of a page that is made from a database.
func pageFile(path, database string, force bool) output.File {
	return output.File{What: "page", Path: path, Mark: page.Mark, Force: force, Database: files.Names(database)}
}

func writePage(file output.File, r *result.Report) error {
	return file.Write(func(w io.Writer) error { return page.Write(w, r) })
}
