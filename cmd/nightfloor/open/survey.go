package open

import (
	"cmp"
	"context"
	"fmt"
	"strconv"

	"nightfloor/reports/wording"
	"nightfloor/store"
)

// Survey gives the number of a survey that was named by number or name, 0 for "".
func Survey(ctx context.Context, db *store.Store, named string) (int64, error) {
	if id, err := strconv.ParseInt(named, 10, 64); err == nil || named == "" {
		return id, nil
	}
	surveys, err := db.Surveys(ctx)
	if err != nil {
		return 0, err
	}
	names := make([]string, len(surveys))
	for i, s := range surveys {
		if s.Name == named {
			return s.ID, nil
		}
		names[i] = s.String()
	}
	return 0, fmt.Errorf("no survey is called %q; there is %s", named, cmp.Or(wording.List(names), "none"))
}
