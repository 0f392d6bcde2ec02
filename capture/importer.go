package capture

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"iter"
	"maps"
	"slices"
	"time"

	"nightfloor/capture/force"
	"nightfloor/dsp/codes"
	"nightfloor/survey"
)

// Samples streams the I/Q of a recording. Read fills x and gives io.EOF at the
// end; Codes tells of the codes read so far.
type Samples interface {
	Read(x []complex64) (n int, err error)
	Codes() *codes.Counter
	Close() error
}

// A Source is a recording that can be measured.
type Source struct {
	File    string // as the user named it
	Setup   survey.Setup
	Start   time.Time // zero where unknown
	NoStart string    // what its name has in place of one, said where the start is missing
	Centre  survey.Hz
	Rate    survey.Hz
	Samples int64
	Gain    survey.Gain
	Dropped int64
	// Simulated: no receiver heard this.
	Simulated bool
	Open      func() (Samples, error)
	// Digest is the same for the same recording, wherever it lies. It may be stored under the one
	// before, by which older versions knew it.
	Digest func() (digest, before string, err error)
}

// An ImportStore is what the importer asks of the database.
type ImportStore interface {
	ImportSurvey(ctx context.Context, name, version string) (id int64, created bool, err error)
	HasRecording(ctx context.Context, digest string) (as survey.Sweep, has bool, err error)
	// AddImported stores a recording's sweep; survey.ErrInvalid: it has figures that cannot be.
	AddImported(ctx context.Context, s *survey.Sweep, from survey.Recording) error
	Surveys(ctx context.Context) ([]survey.Survey, error)
	Recordings(ctx context.Context, id int64) (map[int64]survey.RecordingInfo, error)
	SweepsOf(ctx context.Context, id int64, yield func(*survey.Sweep) error) error
	Spectrum(ctx context.Context, reading int64) (*survey.Spectrum, error)
	AddCarriers(ctx context.Context, carriers map[int64][]survey.Carrier) error
	AddFindings(ctx context.Context, findings map[int64][]survey.Finding) error
	Regroup(ctx context.Context, id int64, turns map[int64]survey.Turn) error
}

// A Refusal is a recording that was not imported, and why.
type Refusal struct {
	File string `json:"file"`
	Why  string `json:"why"`
}

// Imported is what an import did. Setups and Rounds count all that the survey holds, nil where
// there is none: none of the recordings is stored in it.
type Imported struct {
	Survey  *int64    `json:"survey"`
	Stored  int       `json:"stored"`
	Skipped int       `json:"skipped"` // stored before
	Refused []Refusal `json:"refused"`
	Setups  int       `json:"setups"`
	Rounds  int       `json:"rounds"`
	// Unplaced counts those of Stored that named no placement.
	Unplaced int `json:"-"`
}

// Unplaced is the placement of recordings that name none.
const Unplaced = "unnamed"

// An Importer measures recordings and stores them as sweeps.
type Importer struct {
	Store    ImportStore
	Segments []survey.Segment // empty: the named bands that a recording covers
	Region   survey.Region
	Version  string
	Survey   string                  // name of the survey that they go into; "": the one without a name
	Said     func(file, what string) // what a person should know of a recording; may be nil
	Done     func(n, of int)         // progress; may be nil

	into  int64                   // number of the survey; 0: none of it was met yet
	taken map[int64]*heldPassband // of this run, by their first reading's number
}

// Run imports sources. A recording that cannot be used is refused and named;
// the others are stored. An error ends the import; what was stored stays, and has
// its turn.
func (im *Importer) Run(ctx context.Context, sources []Source) (Imported, error) {
	im.taken = map[int64]*heldPassband{}
	out := Imported{Refused: []Refusal{}}
	sources = slices.Clone(sources)
	slices.SortStableFunc(sources, func(a, b Source) int { return a.Start.Compare(b.Start) })
	err := im.all(ctx, sources, &out)
	if im.into == 0 {
		return out, err // no survey was begun
	}
	out.Survey = &im.into
	// Recordings without turns would count as one big round.
	var turnErr error
	out.Setups, out.Rounds, turnErr = im.turns(context.WithoutCancel(ctx))
	return out, withNew(err, turnErr)
}

// all imports one source after the other.
func (im *Importer) all(ctx context.Context, sources []Source, out *Imported) error {
	for i, s := range sources {
		placed := s.Setup.Placement != ""
		s.Setup.Placement = cmp.Or(s.Setup.Placement, Unplaced)
		stored, err := im.one(ctx, s)
		var refusal *refused
		switch {
		case ctx.Err() != nil:
			return fmt.Errorf("import: %d of %s done: %w", i, survey.Count(len(sources), "recording"), ctx.Err())
		case errors.As(err, &refusal):
			out.Refused = append(out.Refused, Refusal{File: s.File, Why: refusal.Error()})
		case err != nil:
			return fmt.Errorf("import %s: %w", s.File, err)
		case stored:
			out.Stored++
			if !placed {
				out.Unplaced++
			}
		default:
			out.Skipped++
		}
		if im.Done != nil {
			im.Done(i+1, len(sources))
		}
	}
	return nil
}

// NoAntenna is why a recording is refused that names none: many of an import may lack it.
const NoAntenna = "it names no antenna; name it with --antenna"

// refused is the error of a recording that cannot be used.
type refused struct{ error }

// Recordings are of these years: of others the start is not true, and a result that spans
// thousands of years, or ends after 9999, cannot be written. Chosen; TestImportRefuses.
const (
	firstYear = 1970
	lastYear  = 2200
)

// one measures and stores one recording; stored is false where it was there.
func (im *Importer) one(ctx context.Context, s Source) (stored bool, err error) {
	if s.Setup.Antenna == "" {
		return false, &refused{errors.New(NoAntenna)}
	}
	switch year := s.Start.Year(); {
	case s.Start.IsZero():
		why := ""
		if s.NoStart != "" {
			why = ", and " + s.NoStart
		}
		return false, &refused{fmt.Errorf("it has no start time%s, so its turn among the others is unknown; give it with --start", why)}
	case year < firstYear || year > lastYear:
		return false, &refused{fmt.Errorf("its start is of the year %d, and no recording is; give the true one with --start", year)}
	}
	digest, before, err := s.Digest()
	if err != nil {
		return false, &refused{err}
	}
	as, there, err := im.Store.HasRecording(ctx, digest)
	if err == nil && !there && before != digest {
		as, there, err = im.Store.HasRecording(ctx, before)
	}
	if err != nil || there {
		if there {
			err = im.skipped(ctx, s, as)
		}
		return false, err
	}
	segments, err := Cover(im.Segments, s.Centre, s.Rate, im.Region)
	if err != nil {
		return false, &refused{err}
	}
	p, err := measure(ctx, s, segments, im.Region)
	if err != nil {
		return false, &refused{err}
	}
	im.into, _, err = im.Store.ImportSurvey(ctx, im.Survey, im.Version)
	if err != nil {
		return false, err
	}
	sweep := &survey.Sweep{Survey: im.into, Setup: s.Setup, Start: s.Start, Readings: p.readings}
	err = im.Store.AddImported(ctx, sweep, survey.Recording{Digest: digest, File: s.File, Simulated: s.Simulated})
	if errors.Is(err, survey.ErrInvalid) {
		return false, &refused{err}
	}
	if err != nil {
		return false, err
	}
	if len(im.taken) < mostImportViews && p.view != nil {
		im.taken[sweep.Readings[0].ID] = p
		p.readings = nil // with their spectra
	}
	return true, nil
}

// mostImportViews bounds the memory that an import takes: a view has some 90 kB at
// 2.4 MS/s. Combs are measured by force in that many recordings of a run, the first.
const mostImportViews = 1000

// skipped says that a recording is stored already, through what, and where if elsewhere.
func (im *Importer) skipped(ctx context.Context, s Source, as survey.Sweep) error {
	surveys, err := im.Store.Surveys(ctx)
	if err != nil {
		return err
	}
	what := "stored already, "
	if i := slices.IndexFunc(surveys, func(v survey.Survey) bool { return v.ID == as.Survey }); i >= 0 && surveys[i].Name != im.Survey {
		what += fmt.Sprintf("in %v, ", surveys[i])
	} else {
		im.into = as.Survey
	}
	what += fmt.Sprintf("as heard through %v; skipped", as.Setup)
	if as.Start.UnixMilli() != s.Start.UnixMilli() {
		what += ", and its start stays " + as.Start.Local().Format("2 Jan 2006 15:04:05 MST")
		if as.Setup == s.Setup {
			what += ": nightfloor database remove-survey takes a survey out to import it anew"
		}
	}
	if as.Setup != s.Setup {
		what += fmt.Sprintf(", and not changed to %v: nightfloor database rename-setup renames a setup, and remove-survey takes a survey out to import it anew", s.Setup)
	}
	if im.Said != nil {
		im.Said(s.File, what)
	}
	return nil
}

// Regroup puts the recordings of a survey of imports into rounds anew, after their setups were
// renamed.
func (im *Importer) Regroup(ctx context.Context, id int64) error {
	im.into = id
	_, _, err := im.turns(ctx)
	return err
}

// turns puts all imported recordings into rounds anew, since they may come in
// any order and in several imports, and measures by force what each setup did
// not detect.
func (im *Importer) turns(ctx context.Context) (setups, rounds int, err error) {
	id := im.into
	recordings, err := im.Store.Recordings(ctx, id)
	if err != nil {
		return 0, 0, err
	}
	numbers := slices.Sorted(maps.Keys(recordings))
	taken := make([]survey.RecordingInfo, len(numbers))
	seen := map[survey.Setup]bool{}
	for i, n := range numbers {
		taken[i] = recordings[n]
		seen[taken[i].Setup] = true
	}
	turns := map[int64]survey.Turn{}
	for i, t := range survey.Turns(taken) {
		turns[numbers[i]] = t
		rounds = max(rounds, t.Round)
	}
	if err := im.Store.Regroup(ctx, id, turns); err != nil {
		return 0, 0, err
	}
	return len(seen), rounds, im.force(ctx, id)
}

// force measures every carrier that was detected anywhere through every setup, and
// every comb that was found through the setups of the same rounds.
func (im *Importer) force(ctx context.Context, id int64) error {
	watch, combs := force.Watch{}, combWatch{}
	var sweeps []*survey.Sweep
	err := im.Store.SweepsOf(ctx, id, func(s *survey.Sweep) error {
		for i := range s.Readings {
			watch.Note(&s.Readings[i], 0)
		}
		for r := range recordingsOf(s) {
			combs.note(combsOf(r, survey.Finding.Detected), s.Round, r[0].Start)
		}
		sweeps = append(sweeps, s)
		return nil
	})
	if err != nil {
		return err
	}
	return errors.Join(im.forceCarriers(ctx, sweeps, watch), im.forceCombs(ctx, sweeps, &combs))
}

// recordingsOf gives the readings of each recording of a sweep.
func recordingsOf(s *survey.Sweep) iter.Seq[[]survey.Reading] {
	return func(yield func([]survey.Reading) bool) {
		for rest := s.Readings; len(rest) > 0; {
			n := 1
			for n < len(rest) && rest[n].Start.Equal(rest[0].Start) && rest[n].Centre == rest[0].Centre {
				n++
			}
			if !yield(rest[:n:n]) {
				return
			}
			rest = rest[n:]
		}
	}
}

// forceCombs measures combs in the recordings of this run.
func (im *Importer) forceCombs(ctx context.Context, sweeps []*survey.Sweep, combs *combWatch) error {
	found := map[int64][]survey.Finding{}
	for _, s := range sweeps {
		for readings := range recordingsOf(s) {
			p := im.taken[readings[0].ID]
			if p == nil {
				continue
			}
			p.readings = readings
			p.combs = combsOf(readings, func(survey.Finding) bool { return true })
			if fresh := p.force(combs, s.Round); len(fresh) > 0 {
				for _, r := range readings {
					found[r.ID] = fresh
				}
			}
		}
	}
	return im.Store.AddFindings(ctx, found)
}

// forceCarriers measures carriers in every recording's spectrum.
func (im *Importer) forceCarriers(ctx context.Context, sweeps []*survey.Sweep, watch force.Watch) error {
	found := map[int64][]survey.Carrier{}
	for _, s := range sweeps {
		for i := range s.Readings {
			r := &s.Readings[i]
			missing := watch.Missing(r)
			if len(missing) == 0 || r.Floor == nil {
				continue
			}
			var err error
			if r.Spectrum, err = im.Store.Spectrum(ctx, r.ID); err != nil {
				return err
			}
			had := len(r.Carriers)
			force.Measure(r, missing)
			r.Spectrum = nil
			if fresh := r.Carriers[had:]; len(fresh) > 0 {
				found[r.ID] = fresh
			}
		}
	}
	return im.Store.AddCarriers(ctx, found)
}
