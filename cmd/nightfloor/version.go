package main

import (
	"runtime/debug"
)

// release is the version that this tree is on the way to.
const release = "0.1.0-dev"

// version gives the release with the commit that it was built from, where the
// build recorded one.
func version() string {
	commit, modified := "unknown", ""
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			switch {
			case s.Key == "vcs.revision":
				commit = s.Value[:min(12, len(s.Value))]
			case s.Key == "vcs.modified" && s.Value == "true":
				modified = ", modified"
			}
		}
	}
	return release + " (commit " + commit + modified + ")"
}
