package cli

import (
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"
)

// exampleArgs ask a question about the worked example.
func exampleArgs(t *testing.T, args ...string) []string {
	t.Helper()
	folder, err := filepath.Abs("../../../../examples/aysen")
	if err != nil {
		t.Fatal(err)
	}
	return append(args, "--plan", filepath.Join(folder, "plan.yaml"), "--observations", filepath.Join(folder, "observations.csv.gz"), "--at", "newest")
}

// Every page of every station of the worked example keeps to 60 lines of 80 columns,
// says when it is stale, and counts its pages rightly; each station's own sheet is
// what the whole brief holds for it.
func TestBriefPagesOfTheExample(t *testing.T) {
	if testing.Short() {
		t.Skip("plans the whole example")
	}
	status, all, stderr := run(exampleArgs(t, "brief", "--format", "text")...)
	if status != exitDone || stderr != "" {
		t.Fatalf("exit %d: %s", status, stderr)
	}
	numbered := regexp.MustCompile(`^(\S+?)(?:, licensed call _+,)? .* page (\d+) of (\d+)$`)
	next, left := 1, 0
	var names []string
	for page := range strings.SplitSeq(all, "\f") {
		lines := strings.Split(strings.TrimSuffix(page, "\n"), "\n")
		if len(lines) > 60 {
			t.Errorf("%d lines on the page of %q", len(lines), lines[0])
		}
		for _, l := range lines {
			if utf8.RuneCountInString(l) > 80 {
				t.Errorf("%d columns: %q", utf8.RuneCountInString(l), l)
			}
		}
		m := numbered.FindStringSubmatch(lines[0])
		if m == nil {
			t.Fatalf("no page number in %q", lines[0])
		}
		if left == 0 {
			names, next = append(names, m[1]), 1
			fmt.Sscan(m[3], &left)
		}
		if m[1] != names[len(names)-1] || m[2] != fmt.Sprint(next) {
			t.Errorf("page %d of %s is headed %q", next, names[len(names)-1], lines[0])
		}
		next, left = next+1, left-1
		head := strings.Join(lines[:4], "\n")
		for _, want := range []string{"For 2026-03-16 02:30Z, evidence up to 02:30Z", "STALE AFTER 2026-03-1"} {
			if !strings.Contains(head, want) {
				t.Errorf("%q isn't at the head of %q", want, lines[0])
			}
		}
		if !strings.Contains(page, "Your licence, local rules") {
			t.Errorf("no caution on %q", lines[0])
		}
	}
	if len(names) != 1+18 || left != 0 {
		t.Errorf("parts %v, %d pages missing", names, left)
	}
	status, one, _ := run(exampleArgs(t, "brief", "--format", "text", "--station", "CANNERY")...)
	if status != exitDone || !strings.Contains(all, one) {
		t.Errorf("exit %d; CANNERY's own sheet isn't that of the whole brief:\n%s", status, one)
	}
}
