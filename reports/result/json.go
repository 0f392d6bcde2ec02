package result

import (
	"bytes"
	"encoding"
	"encoding/json"
	"io"
	"math"
	"reflect"
	"regexp"
	"strconv"
	"strings"
)

// WriteJSON writes a result as one JSON document. Numbers are rounded to four
// decimals, small ones to four digits: no float noise, and finer than the 0.01 dB
// and 0.1 Hz that are promised. A figure that is infinite or no number is null: JSON has no word
// for it, and one such figure must not cost all the others.
func WriteJSON(w io.Writer, answer any) error {
	var text bytes.Buffer
	encoder := json.NewEncoder(&text)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", "  ")
	if err := encoder.Encode(finite(answer)); err != nil {
		return err
	}
	_, err := w.Write(roundNumbers(text.Bytes()))
	return err
}

// noFigure stands for a figure that JSON cannot write until RoundNumber makes null of it: no
// figure of ours comes near.
const noFigure = math.MaxFloat32

// finite gives a copy of an answer in which noFigure stands for what is infinite or no number.
func finite(answer any) any {
	makeFinite(reflect.ValueOf(&answer).Elem())
	return answer
}

// makeFinite puts noFigure into v for what is infinite or no number, and copies for what v refers
// to, which stays as it is. Fields that cannot be set are not written as JSON either, save those of
// a struct that is embedded; a type that writes itself as text is left alone.
func makeFinite(v reflect.Value) {
	if v.Kind() == reflect.Struct && !v.Type().Implements(reflect.TypeFor[encoding.TextMarshaler]()) {
		for _, field := range v.Fields() {
			makeFinite(field)
		}
	}
	if !v.CanSet() || v.IsZero() {
		return
	}
	switch v.Kind() {
	case reflect.Float64, reflect.Float32:
		if x := v.Float(); math.IsNaN(x) || math.IsInf(x, 0) {
			v.SetFloat(noFigure)
		}
	case reflect.Pointer:
		whole := reflect.New(v.Type().Elem())
		whole.Elem().Set(v.Elem())
		makeFinite(whole.Elem())
		v.Set(whole)
	case reflect.Interface:
		whole := reflect.New(v.Elem().Type()).Elem()
		whole.Set(v.Elem())
		makeFinite(whole)
		v.Set(whole)
	case reflect.Slice:
		whole := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		reflect.Copy(whole, v)
		v.Set(whole)
		fallthrough
	case reflect.Array:
		for i := range v.Len() {
			makeFinite(v.Index(i))
		}
	case reflect.Map:
		whole := reflect.MakeMap(v.Type())
		for key, value := range v.Seq2() {
			x := reflect.New(v.Type().Elem()).Elem()
			x.Set(value)
			makeFinite(x)
			whole.SetMapIndex(key, x)
		}
		v.Set(whole)
	}
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
	if math.Abs(x) >= noFigure {
		return "null"
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
