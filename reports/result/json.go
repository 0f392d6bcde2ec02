package result

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// WriteJSON writes a result as one JSON document. Numbers are rounded to four
// decimals, small ones to four digits: no float noise, and finer than the 0.01 dB
// and 0.1 Hz that are promised.
func WriteJSON(w io.Writer, answer any) error {
	var text bytes.Buffer
	encoder := json.NewEncoder(&text)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", "  ")
	if err := encoder.Encode(answer); err != nil {
		return err
	}
	_, err := w.Write(roundNumbers(text.Bytes()))
	return err
}

// token matches a string or a number of JSON.
var token = regexp.MustCompile(`"(?:[^"\\]|\\.)*"|-?[0-9][-+.0-9eE]*`)

// roundNumbers rounds the numbers of a JSON text outside its strings.
func roundNumbers(text []byte) []byte {
	return token.ReplaceAllFunc(text, func(t []byte) []byte {
		if t[0] == '"' {
			return t
		}
		return []byte(RoundNumber(string(t)))
	})
}

// nearOne is the decimals to which a number just under 1 is told from it.
const nearOne = 8

// RoundNumber rounds a number as it stands in JSON: see WriteJSON.
func RoundNumber(number string) string {
	if !strings.ContainsAny(number, ".eE") {
		return number
	}
	x, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return number // not ours to judge
	}
	if x == 0 {
		return "0"
	}
	decimals := max(4, 3-int(math.Floor(math.Log10(math.Abs(x)))))
	for decimals < nearOne && math.Abs(x) < 1 && 1-math.Abs(x) < math.Pow(10, -float64(decimals)) {
		decimals++ // a confidence is never rounded up to 1
	}
	short := strconv.FormatFloat(x, 'f', min(decimals, 20), 64)
	short = strings.TrimSuffix(strings.TrimRight(short, "0"), ".")
	if short == "-0" {
		return "0"
	}
	return short
}
