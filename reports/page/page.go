// Package page shows a report as one self-contained HTML page.
//
// What goes in is a [result.Report]; what comes out is a single document that
// asks nothing of any network: style, script, charts and data stand inside it,
// and its Content-Security-Policy forbids everything else. Sentences, tables
// and text alternatives are made here and can be read without a script; the
// script adds charts, and turns times from UTC into the reader's own zone.
//
// Names come from users and recordings, so they are taken as hostile:
// [wording.Printable] writes out control characters and marks that turn the
// direction of writing, and html/template escapes the rest.
package page

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/text"
	"nightfloor/reports/verdict"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// Mark stands in the head of every page, and tells pages from other files.
const Mark = `<meta name="generator" content="nightfloor">`

//go:embed assets/page.html assets/page.css assets/palette.txt assets/script/*.js assets/charts.min.js
var assets embed.FS

var document = template.Must(template.New("page.html").Funcs(inWords).ParseFS(assets, "assets/page.html"))

// inWords puts what stands in a report into words and figures that can be shown. Texts of
// a report are to go through printable.
var inWords = template.FuncMap{
	"printable": wording.Printable, "receiver": wording.Receiver, "signed": wording.Signed, "chance": wording.Chance,
	"interval": wording.Interval, "legend": verdict.Legend,
	"count": survey.Count, "bearing": survey.BearingOf, "utc": wording.UTC, "spell": wording.Duration,
	"edges": func(low, high survey.Hz) string { return survey.Edges(low, high, " to ") },
	"facts": factsOf, "hours": text.PeriodName, "upper": upper, "in": verdict.In, "unbroken": unbroken,
	"riseLevel": riseLevel, "riseWhere": riseWhere, "sources": text.SourceList, "ownPlace": ownPlace,
	"riseVerdict": func(kind string) string { return text.RiseVerdicts[kind] },
	"patternName": text.PatternName, "bothWays": wording.BothWays, "nullInterval": text.NullInterval,
	"depth": text.DepthText, "depthInterval": text.DepthInterval,
	"flags": flagsOf, "verdicts": text.VerdictsText, "events": text.ShownEvents,
	"moreEvents": func(s result.QualitySurvey) int { return len(s.Events) - len(text.ShownEvents(s)) },
	"ownNoise":   text.OwnNoiseLines,
	"passband":   text.PassbandLines,
	"visits":     func(v *result.QualityVisits) []string { return text.VisitLines(v, time.UTC) },
}

// Write writes the report as one page. It fails where w does, or where a
// picture's values do not fill its rows and columns; nothing is written then.
func Write(w io.Writer, r *result.Report) error {
	v, err := newView(r)
	if err != nil {
		return fmt.Errorf("write page: %w; make the report again, and report this as a mistake of ours", err)
	}
	var page bytes.Buffer
	if err := document.Execute(&page, v); err != nil {
		return fmt.Errorf("write page: fill template: %w", err)
	}
	if _, err := page.WriteTo(w); err != nil {
		return fmt.Errorf("write page: %w", err)
	}
	return nil
}

// asset gives the text of an embedded file.
func asset(name string) string {
	text, err := assets.ReadFile("assets/" + name)
	if err != nil {
		panic(err) // the file is embedded above
	}
	return string(text)
}

// scriptParts are the parts of the page's script, in the order in which they build on each other.
var scriptParts = []string{"data", "times", "look", "tip", "ranking", "pictures", "floors", "timeline", "page"}

// script gives the page's own script: its parts in one closed scope.
func script() string {
	text := "\"use strict\";\n(() => {\n"
	for _, name := range scriptParts {
		text += asset("script/" + name + ".js")
	}
	return text + "})();\n"
}

// policy gives the Content-Security-Policy under which only the given scripts
// and style run, by their hashes [W3C CSP Level 3, 2.3.1], and nothing is
// loaded from anywhere.
func policy(style string, scripts ...string) string {
	p := "default-src 'none'; base-uri 'none'; form-action 'none'; style-src " + hash(style) + "; script-src"
	for _, s := range scripts {
		p += " " + hash(s)
	}
	return p
}

// hash gives a hash source of a Content-Security-Policy.
func hash(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}
