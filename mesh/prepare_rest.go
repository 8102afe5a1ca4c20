package mesh

import (
	"fmt"
	"strings"
	"time"
	"unicode/utf8"
)

func (c *checker) fixed() {
	type key struct{ from, to, channel int }
	seen := make(map[key]int)
	for i := range c.n.Fixed {
		f, path := &c.n.Fixed[i], fmt.Sprintf("links[%d]", i)
		from, to := c.station(path+".from", f.From), c.station(path+".to", f.To)
		if from && to && f.From == f.To {
			c.add(path+".to", "a link needs two different stations")
		}
		c.channel(path+".channel", f.Channel)
		k := key{f.From, f.To, f.Channel}
		if first, taken := seen[k]; taken {
			c.add(path, "this direction has already been stated on this channel, in links[%d]", first)
		} else {
			seen[k] = i
		}
		if f.HasDecode {
			c.within(path+".decode", f.Decode, 0, 1)
			continue
		}
		c.within(path+".snr_db", f.SNRDB, -200, 200)
		c.within(path+".snr_sd_db", f.SNRSDDB, 0, 100)
	}
}

func (c *checker) model() {
	for _, p := range c.n.Link.Problems() {
		if p.Field == "HalfDecodeDB" || p.Field == "SpreadDB" {
			continue // said of slots already
		}
		c.add("model."+settingKeys[p.Field], "%s", p.Message)
	}
	c.within("model.common_db", c.n.CommonDB, 0, 100)
}

// settingKeys are the names that a plan gives the link settings.
var settingKeys = map[string]string{
	"MeanDB": "level_mean_db", "LevelSD": "level_sd_db", "LevelTau": "level_time",
	"Harmonics": "harmonics", "HarmonicSD": "harmonic_sd_db", "HarmonicRatio": "harmonic_ratio", "HarmonicTau": "harmonic_time",
	"FastSD": "fast_sd_db", "FastTau": "fast_time", "SlowSD": "slow_sd_db", "SlowTau": "slow_time",
	"SlotSD": "slot_sd_db", "KnownSD": "known_sd_db",
}

func (c *checker) evidence() {
	e := c.n.Evidence
	if e.ListeningWindow < 0 || e.ListeningWindow > 24*time.Hour {
		c.add("evidence.listening_window", "%v is not allowed; it must be from 0 to 24 h", e.ListeningWindow)
	}
	if e.SilentAfter < 0 || e.SilentAfter > 10*365*24*time.Hour {
		c.add("evidence.silent_after", "%v is not allowed; it must be from 0 to 10 years", e.SilentAfter)
	}
	c.above("evidence.moved_km", e.MovedKM, 0, 1e6)
}

func (c *checker) traffic() {
	seen := make(map[string]int)
	for i := range c.n.Traffic {
		m, path := &c.n.Traffic[i], fmt.Sprintf("traffic[%d]", i)
		m.ID = strings.TrimSpace(m.ID)
		if problem := badName(m.ID); problem != "" {
			c.add(path+".id", "%s", problem)
		} else if first, taken := seen[m.ID]; taken {
			c.add(path+".id", "%q is already the id of traffic[%d]", m.ID, first)
		} else {
			seen[m.ID] = i
		}
		from := c.station(path+".from", m.From)
		if m.To != EveryMember && c.station(path+".to", m.To) && from && m.To == m.From {
			c.add(path+".to", "a message needs a destination other than its origin")
		}
		if m.Characters == 0 {
			m.Characters = utf8.RuneCountInString(m.Text)
		}
		c.count(path+".characters", m.Characters, 1, maxMessageCharacters)
		if m.Precedence > Routine {
			c.add(path+".precedence", "unknown; it must be EMERGENCY, PRIORITY, WELFARE or ROUTINE")
		}
		if !m.Ready.IsZero() && !m.Deadline.IsZero() && !m.Deadline.After(m.Ready) {
			c.add(path+".deadline", "the deadline must be after ready, %s", m.Ready.UTC().Format(time.RFC3339))
		}
	}
}
