package config

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Starter returns a plan to start from: an invented net of three stations whose
// comments explain every key. It loads without problems, also with the lines
// switched on that it switches off.
func Starter() []byte {
	var b strings.Builder
	for _, line := range []string{
		"A plan of a net. Everything in it is invented: put your own stations, channels and figures in its place. Times are UTC.",
		"Explanations begin with # and a space. A line that begins with # and no space is switched off: take the # away to use it.",
		"After a change, 'farhop check --plan FILE' lists everything that is wrong, with its line.",
	} {
		wrap(&b, line, "# ")
		b.WriteString("#\n")
	}
	for _, k := range Keys() {
		b.WriteString("\n")
		comment(&b, k, "# ")
		switch {
		case k.Name == "model" || k.Name == "limits":
			starterOff(&b, k)
		case k.Type == "settings":
			starterSettings(&b, k)
		case len(k.Keys) > 0:
			starterList(&b, k)
		default:
			fmt.Fprintf(&b, "%s: %s\n", k.Name, sample(k))
		}
	}
	return []byte(b.String())
}

// comment explains a key.
func comment(b *strings.Builder, k Key, prefix string) { wrap(b, explanation(k), prefix) }

// explanation is the help of a key with what it takes and what holds without it.
func explanation(k Key) string {
	if len(k.Keys) > 0 {
		return k.Help + " (" + k.Fallback() + ")"
	}
	return k.Help + " (" + k.Expectation() + "; " + k.Fallback() + ")"
}

// commentKeys explains keys in the form of a table.
func commentKeys(b *strings.Builder, keys []Key, prefix string) {
	for _, k := range keys {
		hang(b, k.Name+": "+explanation(k), prefix, prefix+"    ")
		commentKeys(b, k.Keys, prefix+"  ")
	}
}

// starterSettings writes a mapping with each key explained above it. Optional
// mappings below are switched off.
func starterSettings(b *strings.Builder, k Key) {
	b.WriteString(k.Name + ":\n")
	for _, inner := range k.Keys {
		comment(b, inner, "  # ")
		off := ""
		if len(inner.Keys) > 0 {
			off = "#"
			commentKeys(b, inner.Keys, "  #   ")
		}
		fmt.Fprintf(b, "  %s%s: %s\n", off, inner.Name, sample(inner))
	}
}

// starterOff writes a mapping of which every key is switched off.
func starterOff(b *strings.Builder, k Key) {
	b.WriteString(k.Name + ":\n")
	for _, inner := range k.Keys {
		comment(b, inner, "  # ")
		fmt.Fprintf(b, "  #%s: %s\n", inner.Name, sample(inner))
	}
}

// starterList writes a list of mappings below an explanation of their keys.
func starterList(b *strings.Builder, k Key) {
	commentKeys(b, k.Keys, "#   ")
	b.WriteString(k.Name + ":\n")
	b.WriteString(starterEntries(k))
}

// starterEntries is the invented entries of a list.
func starterEntries(k Key) string {
	var b strings.Builder
	switch k.Name {
	case "stations":
		lead := "  - "
		for _, inner := range k.Keys {
			fmt.Fprintf(&b, "%s%s: %s\n", lead, inner.Name, sample(inner))
			lead = "    "
		}
		b.WriteString("  - {call: MILL, locator: RE45, power_w: 10}\n")
		b.WriteString("  - {call: SUMMIT, locator: RE54, power_w: 5, channels: [day], on_air: [\"18:00-06:00\"]}\n")
	case "channels":
		b.WriteString("  - " + flow(k.Keys) + "\n")
		b.WriteString("  - {name: night, frequency_hz: 3651000, windows: [\"06:00-18:00\"]}\n")
	case "links":
		b.WriteString("  #- " + flow(k.Keys, "snr_db", "snr_sd_db") + "\n")
		b.WriteString("  #- " + strings.Replace(flow(k.Keys, "decode"), "from: HARBOR, to: MILL", "from: MILL, to: HARBOR", 1) + "\n")
	case "traffic":
		b.WriteString("  #- " + flow(k.Keys, "text") + "\n")
		b.WriteString("  #- {id: M2, from: MILL, to: every-member, text: \"ROAD OPEN AGAIN\"}\n")
	}
	return b.String()
}

// sample is the value of a key in the starter plan.
func sample(k Key) string {
	switch {
	case k.Type == "list of settings":
		return "[" + flow(k.Keys) + "]"
	case len(k.Keys) > 0:
		return flow(k.Keys)
	}
	return cmp.Or(k.Sample, k.Default)
}

// flow writes sample values of keys on one line, some of them left out.
func flow(keys []Key, without ...string) string {
	var parts []string
	for _, k := range keys {
		if !slices.Contains(without, k.Name) {
			parts = append(parts, k.Name+": "+sample(k))
		}
	}
	return "{" + strings.Join(parts, ", ") + "}"
}
