package result

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
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

// roundNumbers rounds the numbers of a JSON text outside its strings.
func roundNumbers(text []byte) []byte {
	out := make([]byte, 0, len(text))
	for i := 0; i < len(text); {
		switch c := text[i]; {
		case c == '"':
			end := i + 1
			for ; text[end] != '"'; end++ {
				if text[end] == '\\' {
					end++
				}
			}
			out = append(out, text[i:end+1]...)
			i = end + 1
		case c == '-' || c >= '0' && c <= '9':
			end := i + 1
			for end < len(text) && strings.IndexByte("+-.0123456789eE", text[end]) >= 0 {
				end++
			}
			out = append(out, RoundNumber(string(text[i:end]))...)
			i = end
		default:
			out = append(out, c)
			i++
		}
	}
	return out
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
