package capture

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"nightfloor/survey"
)

// A journal stores what a survey has beside its sweeps: visits, gaps, flags, and what was
// measured by force afterwards. While the store takes nothing for now (a full disk), it
// keeps what must not be lost and says so once; recovered stores it, and marks the gap.
type journal struct {
	store   Store
	passing func(error) bool // tells the store's failures that may pass from those that end the survey
	clock   Clock
	log     *slog.Logger
	survey  int64

	outage   fault                      // of the store
	unfit    bool                       // a figure could not be, and the log says so
	failed   bool                       // the store failed for good, and the log says so
	visits   []survey.Visit             // not stored yet
	carriers map[int64][]survey.Carrier // not stored yet, by reading
	findings map[int64][]survey.Finding // not stored yet, by reading
}

// notStored notes a failure of the store that may pass, and gives any other; nil is none.
func (j *journal) notStored(err error, since time.Time) error {
	if err == nil || errors.Is(err, context.Canceled) {
		return err
	}
	if !j.passing(err) {
		if !j.failed {
			j.failed = true
			j.log.Error("fault: store; nothing more is stored, and the survey ends", "why", err)
		}
		return err
	}
	if j.outage.since.IsZero() {
		j.outage = fault{since: since, why: err.Error()}
		j.log.Error("fault began: store; readings are taken on and not kept until it is over", "why", err)
	}
	return nil
}

// leftOut notes a sweep with a figure that cannot be: it leaves a gap, and the survey goes on.
func (j *journal) leftOut(ctx context.Context, err error, from, to time.Time) error {
	return cmp.Or(j.fit(err), j.gap(ctx, from, to, "a sweep was left out: "+err.Error()))
}

// fit gives no error for a figure that cannot be: what it belongs to is left out. The log has the
// first, for what makes one wrong makes the next.
func (j *journal) fit(err error) error {
	if !errors.Is(err, survey.ErrInvalid) {
		return err
	}
	if !j.unfit {
		j.unfit = true
		j.log.Error("a figure cannot be: the sweep, or what was measured by force in it, is left out, and so is each other like it", "why", err)
	}
	return nil
}

// addVisit stores a visit, after those that are not stored yet.
func (j *journal) addVisit(ctx context.Context, v survey.Visit) error {
	j.visits = append(j.visits, v)
	return j.storeVisits(ctx)
}

func (j *journal) storeVisits(ctx context.Context) error {
	for len(j.visits) > 0 {
		if err := j.store.AddVisit(context.WithoutCancel(ctx), j.visits[0]); err != nil {
			return j.notStored(err, j.visits[0].Start)
		}
		j.visits = j.visits[1:]
	}
	return nil
}

// gap stores a stretch without readings.
func (j *journal) gap(ctx context.Context, from, to time.Time, why string) error {
	return j.notStored(j.store.AddGap(context.WithoutCancel(ctx), survey.Gap{Survey: j.survey, From: from, To: to, Why: why}), from)
}

// flagFrom raises a flag on all readings from a visit on; stored is false where the store
// takes nothing for now.
func (j *journal) flagFrom(ctx context.Context, visit int, flag string, now time.Time) (stored bool, err error) {
	err = j.store.FlagFrom(ctx, j.survey, visit, flag)
	return err == nil, j.notStored(err, now)
}

// addLate takes what was measured by force in a reading after it was stored; storeLate
// stores it.
func (j *journal) addLate(reading int64, carriers []survey.Carrier, findings []survey.Finding) {
	if len(carriers) > 0 {
		j.carriers[reading] = append(j.carriers[reading], carriers...)
	}
	if len(findings) > 0 {
		j.findings[reading] = append(j.findings[reading], findings...)
	}
}

func (j *journal) storeLate(ctx context.Context) error {
	err := j.fit(j.store.AddCarriers(ctx, j.carriers))
	if err == nil {
		clear(j.carriers)
		err = j.fit(j.store.AddFindings(ctx, j.findings))
	}
	if err == nil {
		clear(j.findings)
	}
	return j.notStored(err, j.clock.Now())
}

// recovered is called once the store took a sweep: where it did not before, it marks the
// gap and stores what was kept.
func (j *journal) recovered(ctx context.Context) error {
	if j.outage.since.IsZero() {
		return nil
	}
	was := j.outage
	gap := survey.Gap{Survey: j.survey, From: was.since, To: j.clock.Now(), Why: "not stored: " + was.why}
	if err := j.store.AddGap(context.WithoutCancel(ctx), gap); err != nil {
		return j.notStored(err, was.since) // full again: the fault goes on
	}
	j.outage = fault{}
	j.log.Warn("fault cleared: store", "after", j.clock.Now().Sub(was.since).Round(time.Second))
	if err := j.storeVisits(ctx); err != nil {
		return err
	}
	return j.storeLate(ctx)
}

// end stores the survey's end, and the gap before it where the store took nothing for now. The
// error tells also of what may pass: nobody tries again.
func (j *journal) end(ctx context.Context, how string) error {
	if err := j.recovered(ctx); err != nil {
		return err
	}
	if err := j.store.EndSurvey(ctx, j.survey, j.clock.Now(), how); err != nil {
		return err
	}
	if j.outage.since.IsZero() {
		return nil
	}
	return fmt.Errorf("store the sweeps since %s: %s", survey.LocalTime(j.outage.since), j.outage.why)
}
