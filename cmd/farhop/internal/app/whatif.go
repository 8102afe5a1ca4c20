package app

import (
	"fmt"
	"strconv"
	"strings"

	"farhop/cmd/farhop/internal/view"

	"farhop/mesh"
	"farhop/observations/locator"
)

// WhatIf is what to assume in place of the plan: each a station and a value, as
// in MILL=25.
type WhatIf struct {
	Without []string // stations taken out
	Power   []string // CALL=WATTS
	OnAir   []string // CALL=WINDOWS
	Move    []string // CALL=LOCATOR
}

// none reports whether nothing is assumed.
func (w WhatIf) none() bool { return len(w.Without)+len(w.Power)+len(w.OnAir)+len(w.Move) == 0 }

// assume replaces the session's net and links by those of the assumptions.
func (s *Session) assume(w WhatIf) error {
	if w.none() {
		return nil
	}
	net := s.net.Clone()
	for _, change := range []struct {
		flag   string
		values []string
		apply  func(*mesh.Station, string) (string, error)
	}{
		{"--power", w.Power, setPower}, {"--on-air", w.OnAir, setOnAir}, {"--move", w.Move, setPlace},
	} {
		for _, v := range change.values {
			name, value, ok := strings.Cut(v, "=")
			if !ok {
				return usagef("%s %q: write the station, an equals sign and the value, as in MILL=…", change.flag, v)
			}
			i, err := s.station(name)
			if err != nil {
				return err
			}
			said, err := change.apply(&net.Stations[i], value)
			if err != nil {
				return usagef("%s %q: %v", change.flag, v, err)
			}
			s.assumed = append(s.assumed, net.Stations[i].Call+" "+said)
		}
	}
	var gone []int
	for _, name := range w.Without {
		i, err := s.station(name)
		if err != nil {
			return err
		}
		gone = append(gone, i)
		s.assumed = append(s.assumed, "no "+net.Stations[i].Call+lostWith(net, i))
	}
	if gone != nil {
		net = net.Without(gone...)
	}
	links, err := s.links.Replan(net)
	if err != nil {
		return fmt.Errorf("what-if: %w", err)
	}
	plain := *s
	plain.assumed = nil
	s.plain, s.net, s.links = &plain, net, links
	return nil
}

// lostWith names the plan's messages from or to a station, which go out with it.
func lostWith(net *mesh.Net, station int) string {
	var ids []string
	for i := range net.Traffic {
		if m := &net.Traffic[i]; m.From == station || m.To == station {
			ids = append(ids, m.ID)
		}
	}
	if ids == nil {
		return ""
	}
	return " (nor " + view.Names(ids) + " of the plan's traffic)"
}

func setPower(station *mesh.Station, value string) (string, error) {
	watts, err := strconv.ParseFloat(strings.TrimSuffix(value, "W"), 64)
	if err != nil || !(watts > 0) || watts > 10e3 {
		return "", fmt.Errorf("write watts over 0 and up to 10,000")
	}
	said := fmt.Sprintf("at %g W instead of %g W", watts, station.PowerW)
	if supply := station.Supply; supply != nil && supply.TransmitW > 0 && watts != station.PowerW {
		said += fmt.Sprintf(" (its battery still as if sending drew %g W)", supply.TransmitW)
	}
	station.PowerW = watts
	return said, nil
}

func setOnAir(station *mesh.Station, value string) (string, error) {
	windows, err := mesh.ParseWindows(strings.Split(value, ","))
	if err != nil {
		return "", err
	}
	said := fmt.Sprintf("on the air %s instead of %s", windows, station.OnAir)
	station.OnAir = windows
	return said, nil
}

func setPlace(station *mesh.Station, value string) (string, error) {
	position, err := locator.Parse(value)
	if err != nil {
		return "", err
	}
	from := station.Locator
	if from == "" {
		from = "an unstated place"
	}
	said := fmt.Sprintf("at %s instead of %s", value, from)
	station.Locator, station.Position = value, position
	return said, nil
}
