package reporttest

import (
	"bytes"
	"encoding"
	"encoding/json"
	"math"
	"reflect"
	"regexp"
	"testing"

	"nightfloor/reports/result"
)

// hugeNumber matches a number of JSON that no figure is.
var hugeNumber = regexp.MustCompile(`[0-9]{30,}|[eE]\+`)

// CheckInfinite writes documents as JSON in which every figure is infinite or no number, and wants
// null for each. A document is given by a value of its type, whatever is in it.
func CheckInfinite(t *testing.T, documents ...any) {
	t.Helper()
	for _, document := range documents {
		for _, x := range []float64{math.Inf(1), math.Inf(-1), math.NaN()} {
			v := reflect.New(reflect.TypeOf(document)).Elem()
			figures := spoil(v, x)
			var text bytes.Buffer
			if err := result.WriteJSON(&text, v.Interface()); err != nil {
				t.Errorf("%T with %v everywhere: %v", document, x, err)
			} else if !json.Valid(text.Bytes()) || hugeNumber.Match(text.Bytes()) || bytes.Count(text.Bytes(), []byte("null")) < figures {
				t.Errorf("%T with %v everywhere: want %d figures null in\n%s", document, x, figures, text.Bytes())
			}
		}
	}
}

// spoil puts x into every figure that JSON holds of v, makes what is missing on the way, and counts
// the figures.
func spoil(v reflect.Value, x float64) (figures int) {
	if v.Type().Implements(reflect.TypeFor[encoding.TextMarshaler]()) {
		return 0
	}
	switch v.Kind() {
	case reflect.Float64:
		v.SetFloat(x)
		return 1
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		return spoil(v.Elem(), x)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		return spoil(v.Index(0), x)
	case reflect.Map:
		key, value := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		figures = spoil(value, x)
		v.Set(reflect.MakeMap(v.Type()))
		v.SetMapIndex(key, value)
	case reflect.Struct:
		for field, value := range v.Fields() {
			if (field.IsExported() || field.Anonymous) && field.Tag.Get("json") != "-" {
				figures += spoil(value, x)
			}
		}
	}
	return figures
}
