package mesh

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"farhop/observations/locator"
)

func (c *checker) stations() {
	if len(c.n.Stations) == 0 {
		c.add("stations", "the net has no station; at least one is needed")
	}
	seen := make(map[string]int)
	for i := range c.n.Stations {
		s, path := &c.n.Stations[i], fmt.Sprintf("stations[%d]", i)
		c.stationNames(s, path, i, seen)
		c.stationPlace(s, path)
		c.above(path+".power_w", s.PowerW, 0, maxWatts)
		if s.MaxPowerW != 0 && !(s.MaxPowerW >= s.PowerW && s.MaxPowerW <= maxWatts) {
			c.add(path+".max_power_w", "%v is not allowed; it must be at least power_w, %v, and at most %v", s.MaxPowerW, s.PowerW, maxWatts)
		}
		c.stationChannels(s, path)
		if s.OnAir.Empty() {
			s.OnAir = Always()
		}
		if s.Watch > WatchAll {
			c.add(path+".watch", "unknown; it must be heard, declared or all")
		}
		for j := range s.Roles {
			s.Roles[j] = strings.TrimSpace(s.Roles[j])
			if problem := badName(s.Roles[j]); problem != "" {
				c.add(fmt.Sprintf("%s.roles[%d]", path, j), "%s", problem)
			}
		}
		c.soundings(s, path)
		c.supply(s.Supply, path+".supply")
		c.stationLimits(s, path)
	}
}

// stationNames brings a station's names into form and checks that no other
// station has them.
func (c *checker) stationNames(s *Station, path string, index int, seen map[string]int) {
	take := func(at, name string) {
		if problem := badName(name); problem != "" {
			c.add(at, "%s", problem)
			return
		}
		if name == "EVERY-MEMBER" {
			c.add(at, "%q stands for all stations and can't be a name", name)
		}
		if first, taken := seen[name]; taken && first != index {
			c.add(at, "%q is already a name of stations[%d]; every name must belong to one station, "+
				"and stations that share a call need different / suffixes", name, first)
			return
		}
		seen[name] = index
	}
	s.Call, s.Licensed = fold(s.Call), fold(s.Licensed)
	take(path+".call", s.Call)
	if s.Licensed != "" {
		take(path+".licensed_call", s.Licensed)
	}
	for j := range s.Also {
		s.Also[j] = fold(s.Also[j])
		take(fmt.Sprintf("%s.also[%d]", path, j), s.Also[j])
	}
}

func (c *checker) stationPlace(s *Station, path string) {
	s.Locator = strings.TrimSpace(s.Locator)
	if s.Locator == "" {
		s.Position = locator.Position{}
		return
	}
	position, err := locator.Parse(s.Locator)
	if err != nil {
		c.add(path+".locator", "%v", err)
		return
	}
	s.Position = position
}

func (c *checker) stationChannels(s *Station, path string) {
	if len(s.Channels) == 0 {
		for i := range c.n.Channels {
			s.Channels = append(s.Channels, i)
		}
	}
	seen := make(map[int]bool)
	for j, ch := range s.Channels {
		at := fmt.Sprintf("%s.channels[%d]", path, j)
		if c.channel(at, ch) && seen[ch] {
			c.add(at, "%q is listed twice", c.n.Channels[ch].Name)
		}
		seen[ch] = true
	}
}

// channel checks an index of a channel.
func (c *checker) channel(path string, index int) bool {
	if index < 0 || index >= len(c.n.Channels) {
		c.add(path, "there is no such channel; the net has %s", c.channelNames())
		return false
	}
	return true
}

func (c *checker) channelNames() string {
	list := make([]string, len(c.n.Channels))
	for i := range list {
		list[i] = c.n.Channels[i].Name
	}
	if len(list) == 0 {
		return "none"
	}
	return strings.Join(list, ", ")
}

// station checks an index of a station.
func (c *checker) station(path string, index int) bool {
	if index < 0 || index >= len(c.n.Stations) {
		c.add(path, "there is no such station")
		return false
	}
	return true
}

func (c *checker) soundings(s *Station, path string) {
	for j := range s.Soundings {
		sound, at := &s.Soundings[j], fmt.Sprintf("%s.soundings[%d]", path, j)
		if c.channel(at+".channel", sound.Channel) && !slices.Contains(s.Channels, sound.Channel) {
			c.add(at+".channel", "%s does not use %s; its channels must list it", s.Call, c.n.Channels[sound.Channel].Name)
		}
		least := max(c.n.Slots.Length, time.Second)
		if sound.Every%time.Second != 0 || sound.Every < least || sound.Every > 24*time.Hour {
			c.add(at+".every", "%v is not allowed; it must be whole seconds, at least a slot (%v) and at most 24 h", sound.Every, least)
			continue
		}
		if sound.After%time.Second != 0 || sound.After < 0 || sound.After >= sound.Every {
			c.add(at+".after", "%v is not allowed; it must be whole seconds, at least 0 and less than every (%v)", sound.After, sound.Every)
		}
	}
}

func (c *checker) supply(s *Supply, path string) {
	if s == nil {
		return
	}
	c.above(path+".battery_wh", s.BatteryWh, 0, 1e9)
	if !(s.Reserve >= 0 && s.Reserve < 1) {
		c.add(path+".reserve", "%v is not allowed; it must be from 0 to less than 1", s.Reserve)
	}
	c.within(path+".receive_w", s.ReceiveW, 0, maxWatts)
	c.within(path+".transmit_w", s.TransmitW, 0, maxWatts)
	c.within(path+".charge_wh_per_day", s.ChargeWhPerDay, 0, 1e9)
}
