package cli

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// browser is the program that prints, skipping the test where there is none.
func browser(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	t.Skip("no Chromium on this machine: printing isn't tried (.ci/run installs one)")
	return ""
}

// overflow tells, as the page is laid out for printing, what reaches beyond its page or
// into its foot, and tables wider than the paper.
const overflow = `(() => {
	const bad = [];
	for (const p of document.querySelectorAll('.page')) {
		const box = p.getBoundingClientRect(), foot = p.querySelector('footer').getBoundingClientRect();
		if (foot.bottom > box.bottom + 1) bad.push(p.id + ': foot');
		for (const e of p.querySelectorAll('header, h2, p, li, figure, svg, tr, td, th')) {
			const r = e.getBoundingClientRect();
			if (r.right > box.right + 1 || r.left < box.left - 1) bad.push(p.id + ': too wide: ' + e.tagName + ' ' + e.textContent.slice(0, 40));
			if (!e.closest('footer') && r.bottom > foot.top + 1) bad.push(p.id + ': too low: ' + e.tagName + ' ' + e.textContent.slice(0, 40));
			if (e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0 && e.tagName != 'svg' && e.tagName != 'TR') bad.push(p.id + ': clipped: ' + e.textContent.slice(0, 40));
		}
	}
	return bad;
})()`

// The whole brief of the worked example, printed by a browser: as many pages as it says,
// each with its number and all its words, nothing cut off, and no request to any address.
func TestBriefPrints(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a browser")
	}
	path := browser(t)
	for _, tool := range []string{"pdfinfo", "pdftotext"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skipf("no %s on this machine: printing isn't tried (.ci/run installs poppler-utils)", tool)
		}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Minute)
	defer cancel()
	ctx, cancel = chromedp.NewExecAllocator(ctx, append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.WSURLReadTimeout(2*time.Minute))...)
	defer cancel()
	ctx, cancel = chromedp.NewContext(ctx)
	defer cancel()
	if err := chromedp.Do(ctx); err != nil { // the browser lives as long as this context
		t.Fatal(err)
	}
	for _, x := range []struct {
		name, size string
		args       []string
	}{
		{"A4", "(A4)", []string{"--paper", "A4"}},
		{"letter", "(letter)", []string{"--station", "HARBOR", "--exercise", "--zone", "-03:00", "--paper", "letter"}},
	} {
		t.Run(x.name, func(t *testing.T) { printed(ctx, t, x.size, x.args) })
	}
}

func printed(ctx context.Context, t *testing.T, size string, args []string) {
	file := filepath.Join(t.TempDir(), "brief.html")
	if status, _, stderr := run(exampleArgs(t, append([]string{"brief", "--output", file}, args...)...)...); status != exitDone {
		t.Fatalf("exit %d: %s", status, stderr)
	}
	var mu sync.Mutex
	var asked []string
	listening, stop := context.WithCancel(ctx)
	defer stop()
	err := chromedp.Listen(listening, func(ev any) {
		if e, ok := ev.(*network.EventRequestWillBeSent); ok {
			mu.Lock()
			asked = append(asked, e.Request.URL)
			mu.Unlock()
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	var pdf []byte
	var bad []string
	err = chromedp.Do(ctx,
		chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
			_, err := chromedp.Call(ctx, network.Enable, network.EnableParams{})
			return err
		}),
		chromedp.Navigate("file://"+file),
		chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
			_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
			return err
		}),
		chromedp.Func(func(ctx context.Context, target *chromedp.Target) (err error) {
			bad, err = chromedp.Evaluate[[]string](overflow)(ctx, target)
			return err
		}),
		chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
			r, err := chromedp.Call(ctx, page.PrintToPDF, page.PrintToPDFParams{PreferCSSPageSize: new(true)})
			pdf = r.Data
			return err
		}))
	if err != nil {
		t.Fatal(err)
	}
	if len(bad) > 0 {
		t.Errorf("%d things don't fit their page, first of all %s", len(bad), bad[0])
	}
	mu.Lock() // the browser may still tell something
	defer mu.Unlock()
	if len(asked) != 1 || asked[0] != "file://"+file {
		t.Errorf("requests: %q", asked)
	}
	sheet := filepath.Join(t.TempDir(), "brief.pdf")
	if err := os.WriteFile(sheet, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	comparePages(t, file, sheet, size)
}

// comparePages compares the pages of a brief with those that were printed of it.
func comparePages(t *testing.T, file, pdf, size string) {
	t.Helper()
	info, err := exec.Command("pdfinfo", pdf).Output()
	if err != nil {
		t.Fatal(err)
	}
	text, err := exec.Command("pdftotext", "-layout", pdf, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	page, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	wanted := strings.Split(string(page), `<section class="page"`)[1:]
	if !regexp.MustCompile(fmt.Sprintf(`Pages: +%d\n`, len(wanted))).Match(info) || !strings.Contains(string(info), size) {
		t.Fatalf("not %d pages of %s:\n%s", len(wanted), size, info)
	}
	word := regexp.MustCompile(`<t[dh]>([A-Z][A-Z]+|[0-9?-]{24})</t[dh]>`)
	words := 0
	for i, got := range strings.Split(strings.TrimSuffix(string(text), "\f"), "\f") {
		for _, want := range []string{fmt.Sprintf("page %d of %d", i+1, len(wanted)), "STALE AFTER", "licensed practice come first"} {
			if !strings.Contains(strings.Join(strings.Fields(got), " "), want) {
				t.Errorf("page %d lacks %q", i+1, want)
			}
		}
		for _, m := range word.FindAllStringSubmatch(wanted[i], -1) {
			if words++; !strings.Contains(got, m[1]) {
				t.Errorf("%q isn't on printed page %d", m[1], i+1)
			}
		}
	}
	if words < 50 {
		t.Errorf("only %d words were looked for", words)
	}
}
