package cli

import (
	"runtime/debug"
	"testing"
)

func TestVersion(t *testing.T) {
	build := func(module string, settings ...string) *debug.BuildInfo {
		info := &debug.BuildInfo{GoVersion: "go1.26.8", Main: debug.Module{Path: "farhop", Version: module}}
		for i := 0; i < len(settings); i += 2 {
			info.Settings = append(info.Settings, debug.BuildSetting{Key: settings[i], Value: settings[i+1]})
		}
		info.Settings = append(info.Settings, debug.BuildSetting{Key: "GOOS", Value: "linux"}, debug.BuildSetting{Key: "GOARCH", Value: "arm"})
		return info
	}
	commit := []string{"vcs.revision", "a7a9607c9cb0123456789", "vcs.time", "2026-11-25T07:28:24Z", "vcs.modified", "false"}
	changed := append(append([]string{}, commit[:5]...), "true")
	for _, c := range []struct {
		info *debug.BuildInfo
		ok   bool
		want string
	}{
		{nil, false, "farhop; this build doesn't say which version it is"},
		{build("(devel)"), true, "farhop of an unmarked version (go build -buildvcs=true in a checkout marks it); go1.26.8 linux/arm"},
		{build(""), true, "farhop of an unmarked version (go build -buildvcs=true in a checkout marks it); go1.26.8 linux/arm"},
		{build("v1.2.0"), true, "farhop v1.2.0; go1.26.8 linux/arm"},
		{build("v1.2.0", commit...), true, "farhop v1.2.0, commit a7a9607c9cb0 of 2026-11-25T07:28:24Z; go1.26.8 linux/arm"},
		{build("v0.0.0-20261125072824-a7a9607c9cb0+dirty", changed...), true, "farhop commit a7a9607c9cb0 of 2026-11-25T07:28:24Z, changed since; go1.26.8 linux/arm"},
		{build("(devel)", "vcs.revision", "a7a9"), true, "farhop commit a7a9; go1.26.8 linux/arm"},
	} {
		if got := version(c.info, c.ok); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
}
