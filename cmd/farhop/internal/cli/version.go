package cli

import (
	"runtime/debug"
	"strings"
)

// version tells which build this is, as far as the build itself knows: the commit and
// its time where it was built in a checkout, else the version of the module, and the
// compiler.
func version(info *debug.BuildInfo, ok bool) string {
	if !ok {
		return "farhop; this build doesn't say which version it is"
	}
	set := make(map[string]string)
	for _, s := range info.Settings {
		set[s.Key] = s.Value
	}
	which := info.Main.Version
	if commit := set["vcs.revision"]; commit != "" {
		commit = commit[:min(12, len(commit))]
		mark := "commit " + commit
		if at := set["vcs.time"]; at != "" {
			mark += " of " + at
		}
		if set["vcs.modified"] == "true" {
			mark += ", changed since"
		}
		if which == "" || which == "(devel)" || strings.Contains(which, commit) {
			which = mark
		} else {
			which += ", " + mark
		}
	}
	if which == "" || which == "(devel)" {
		which = "of an unmarked version (go build -buildvcs=true in a checkout marks it)"
	}
	return "farhop " + which + "; " + info.GoVersion + " " + set["GOOS"] + "/" + set["GOARCH"]
}
