package database

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"nightfloor/capture"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/cmd/nightfloor/open"
	"nightfloor/reports/wording"
	"nightfloor/store"
	"nightfloor/store/rename"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

func newRenameCommand(c *console.Console, version string) *cobra.Command {
	var database string
	var yes bool
	cmd := &cobra.Command{
		Use:   "rename-setup OLD NEW",
		Short: "Gives a setup another name, in all surveys",
		Long: `Gives a setup another name, in all surveys. Both names are ANTENNA[@PLACEMENT[:BEARING]].
What OLD leaves out fits any, and what NEW leaves out stays as it is: lop loop mends the
antenna's name at all its placements and bearings. A bearing that OLD names is dropped where
NEW names a placement without one. NEW may be the name of another setup; both are one then for good, so that it asks first, and
rounds of imports are counted anew. Setups of one round of a survey that was recorded were
compared with each other and stay apart.` + "\n" + console.ExitHelp,
		Args: func(cmd *cobra.Command, names []string) error {
			if len(names) != 2 {
				return console.Usagef("rename-setup: give the old name and the new one; see %s --help", cmd.CommandPath())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, names []string) error {
			return runRename(cmd.Context(), database, names[0], names[1], yes, version, c)
		},
	}
	cmd.Flags().BoolVar(&yes, "yes", false, "do not ask")
	console.DatabaseVar(cmd.Flags(), &database)
	return cmd
}

func runRename(ctx context.Context, database, from, to string, yes bool, version string, c *console.Console) error {
	name, err := survey.ParseSetup(to)
	if err = cmp.Or(err, survey.CheckPrintable(name.Antenna), survey.CheckPrintable(name.Placement)); err != nil {
		return console.Usagef("rename-setup: %w; choose another", err)
	}
	db, _, release, err := open.ToWrite(ctx, database, open.There)
	if err != nil {
		return err
	}
	defer release()
	surveys, err := db.Surveys(ctx)
	if err != nil {
		return err
	}
	book, err := readSetups(ctx, db, surveys)
	if err != nil {
		return err
	}
	renamings, err := book.renamings(from, name)
	if err != nil {
		return fmt.Errorf("rename-setup %s: %w", from, err)
	}
	if merged := book.merged(renamings); merged != "" {
		if err := c.Confirm(ctx, "rename-setup "+from, merged+" and cannot be parted again", yes); err != nil {
			return err
		}
	}
	before, err := countRounds(ctx, db, surveys)
	if err != nil {
		return err
	}
	ids, err := db.RenameSetups(ctx, renamings)
	if err != nil {
		return err
	}
	return renamed(ctx, db, renamings, before, slices.DeleteFunc(surveys, func(s survey.Survey) bool { return !slices.Contains(ids, s.ID) }), version, c)
}

// countRounds gives how many rounds imports have, by survey.
func countRounds(ctx context.Context, db *store.Store, surveys []survey.Survey) (map[int64]int, error) {
	rounds := map[int64]int{}
	for _, s := range surveys {
		if s.Kind != survey.KindImport {
			continue
		}
		p, err := db.Progress(ctx, s, 1)
		if err != nil {
			return nil, err
		}
		rounds[s.ID] = p.Round
	}
	return rounds, nil
}

// renamed puts imports into rounds anew, and says what was done.
func renamed(ctx context.Context, db *store.Store, renamings []rename.Renaming, before map[int64]int, surveys []survey.Survey, version string, c *console.Console) error {
	for _, s := range surveys {
		if s.Kind == survey.KindRecord {
			c.Note("%v keeps its plan with the old name, and record goes on with it under that; name the setup anew in the plan file, and a new survey begins", s)
			continue
		}
		importer := capture.Importer{Store: db, Version: version}
		if err := importer.Regroup(context.WithoutCancel(ctx), s.ID); err != nil {
			return fmt.Errorf("count rounds of %v anew: %w; the next import into it does so, too", s, err)
		}
	}
	after, err := countRounds(ctx, db, surveys)
	if err != nil {
		return err
	}
	for _, r := range renamings {
		if err := c.Fold(c.Out, "%s is %s now\n", r.From, r.To); err != nil {
			return err
		}
	}
	var names []string
	for _, s := range surveys {
		name := s.String()
		if is, was := after[s.ID], before[s.ID]; is != was {
			name += fmt.Sprintf(" (%s, before %d)", survey.Count(is, "round"), was)
		}
		names = append(names, name)
	}
	return c.Fold(c.Out, "changed: %s\n", cmp.Or(wording.List(names), "no survey"))
}

// A setupBook lists the setups of a database, with the surveys in which each is.
type setupBook struct {
	setups []survey.Setup
	in     map[survey.Setup][]survey.Survey
}

func readSetups(ctx context.Context, db *store.Store, surveys []survey.Survey) (setupBook, error) {
	book := setupBook{in: map[survey.Setup][]survey.Survey{}}
	for _, s := range surveys {
		setups, err := db.SetupsOf(ctx, s.ID)
		if err != nil {
			return book, err
		}
		for _, setup := range setups {
			if book.in[setup] == nil {
				book.setups = append(book.setups, setup)
			}
			book.in[setup] = append(book.in[setup], s)
		}
	}
	return book, nil
}

// named gives the setups that a person means: the one that is written so, whatever it holds, else
// all that fit. withBearing tells whether its bearing is part of what was written.
func (b setupBook) named(text string) (fit []survey.Setup, withBearing bool, err error) {
	for _, s := range b.setups {
		if s.String() == text {
			return []survey.Setup{s}, s.Bearing.Known, nil
		}
	}
	pattern, err := survey.ParseSetup(text)
	if err != nil {
		return nil, false, err
	}
	for _, s := range b.setups {
		if s.Matches(pattern) {
			fit = append(fit, s)
		}
	}
	if len(fit) == 0 {
		return nil, false, fmt.Errorf("no such setup; there is %s", cmp.Or(wording.List(setupNames(b.setups)), "none"))
	}
	return fit, pattern.Bearing.Known, nil
}

// renamings gives what each setup of the old name is to be called.
func (b setupBook) renamings(from string, name survey.Setup) (all []rename.Renaming, err error) {
	fit, withBearing, err := b.named(from)
	if err != nil {
		return nil, err
	}
	by := map[survey.Setup]survey.Setup{} // the old name of each new one
	for _, s := range fit {
		if s.Antenna != fit[0].Antenna { // by a name that was cut
			return nil, fmt.Errorf("it fits %v and %v; name one antenna", fit[0], s)
		}
		to := survey.Setup{Antenna: name.Antenna, Placement: cmp.Or(name.Placement, s.Placement), Bearing: s.Bearing}
		if name.Bearing.Known || withBearing && name.Placement != "" {
			to.Bearing = name.Bearing
		}
		if to == s {
			continue
		}
		if other, twice := by[to]; twice {
			return nil, fmt.Errorf("%v and %v would both be %v; name one of them", other, s, to)
		}
		by[to] = s
		all = append(all, rename.Renaming{From: s, To: to})
		for _, in := range b.in[s] {
			if err := planKnows(in, s.Antenna, to.Antenna); err != nil {
				return nil, err
			}
		}
	}
	if len(all) == 0 {
		return nil, errors.New("it is called so already; nothing is changed")
	}
	return all, nil
}

// merged says which setups become one with others that are there, and where they are; "": none does.
func (b setupBook) merged(renamings []rename.Renaming) string {
	var all []string
	for _, r := range renamings {
		if b.in[r.To] == nil {
			continue
		}
		var both []string
		for _, s := range b.in[r.From] {
			if slices.ContainsFunc(b.in[r.To], func(o survey.Survey) bool { return o.ID == s.ID }) {
				both = append(both, s.String())
			}
		}
		where := "each is in surveys of its own"
		if len(both) > 0 {
			where = "both are in " + wording.List(both)
		}
		all = append(all, fmt.Sprintf("%v is there beside %v: %s, and they become one", r.To, r.From, where))
	}
	return strings.Join(all, ", ")
}

// planKnows refuses to take an antenna's name from it where the plan of a survey says more of it:
// that it is a terminator, or a loop, or what it is tuned to, or which
// others are conditions of it. Reports would not know it any more.
func planKnows(s survey.Survey, from, to string) error {
	p, _ := plan.Parse([]byte(s.Plan)) // of one that another version wrote, what this one can read
	was, is := p.Antenna(from), p.Antenna(to)
	named := func(a survey.Antenna) bool { return a.Of == from || slices.Contains(a.Removed, from) }
	switch was.Name = is.Name; {
	case s.Kind != survey.KindRecord:
		return nil
	case slices.ContainsFunc(p.Antennas, named):
		return fmt.Errorf("the plan of %v says of another antenna how it belongs to %q; keep the antenna's name there", s, from)
	case reflect.DeepEqual(was, is):
		return nil
	}
	return fmt.Errorf("the plan of %v says what kind of antenna %q is, and not the same of %q; keep the antenna's name there", s, from, to)
}

func setupNames(setups []survey.Setup) (names []string) {
	for _, s := range setups {
		names = append(names, wording.Printable(s.String()))
	}
	return names
}
