package scene

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"
)

// names lists the scenes there are.
var names = []string{"house"}

const usage = "write scene:house or scene:house?seed=7"

// parseURI takes scene:NAME?seed=N apart; fallback is the seed of a URI that
// names none.
func parseURI(uri string, fallback uint64) (seed uint64, err error) {
	rest, ok := strings.CutPrefix(uri, "scene:")
	if !ok {
		return 0, fmt.Errorf("receiver %q: not a scene; %s", uri, usage)
	}
	name, query, _ := strings.Cut(rest, "?")
	if name != names[0] {
		return 0, fmt.Errorf("scene %q: not known; the scenes are: %s", name, strings.Join(names, ", "))
	}
	values, err := url.ParseQuery(query)
	if err != nil {
		return 0, fmt.Errorf("receiver %q: %w; %s", uri, err, usage)
	}
	for key, given := range values {
		if key != "seed" || len(given) != 1 {
			return 0, fmt.Errorf("receiver %q: %s is not an option, or given twice; %s", uri, key, usage)
		}
	}
	if !values.Has("seed") {
		return fallback, nil
	}
	seed, err = strconv.ParseUint(values.Get("seed"), 10, 64)
	if err != nil {
		return 0, fmt.Errorf("receiver %q: seed: %w; %s", uri, err, usage)
	}
	return seed, nil
}
