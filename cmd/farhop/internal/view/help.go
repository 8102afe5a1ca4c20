package view

import "time"

// Help is what is known of a station that is cut off, and what to try.
type Help struct {
	Station     string   `json:"station"`
	State       string   `json:"state"`         // isolated, deaf, unheard, unknown or off-air
	LastHeardBy *Contact `json:"last_heard_by"` // nil: nobody ever has, by this log
	LastHeard   *Contact `json:"last_heard"`
	Reason      string   `json:"reason"` // short and stable, for scripts
	Because     string   `json:"because"`
	Try         string   `json:"try"`
	Partner     string   `json:"partner,omitempty"` // the member it has the best prospects with
	Channel     string   `json:"channel,omitempty"`
	// OpensAt is when a link opens or the station is back on the air.
	OpensAt *time.Time `json:"opens_at"`
	ShortDB *float64   `json:"short_db"` // what its best link lacks now
	PowerW  *float64   `json:"power_w"`  // power that would do
	// On the channels in use now, in the directions that it lacks.
	Reports     int        `json:"reports"`
	Misses      int        `json:"misses"`
	UnknownLink *GuessLink `json:"unknown_link"` // the likeliest of those too little is known of
}

// GuessLink is a link that only --unknown counts.
type GuessLink struct {
	From    string  `json:"from"`
	To      string  `json:"to"`
	Channel string  `json:"channel"`
	Decode  float64 `json:"decode"`
}

// Contact is one report.
type Contact struct {
	Station string    `json:"station"`
	At      time.Time `json:"at"`
	SNRDB   float64   `json:"snr_db"`
	Channel string    `json:"channel,omitempty"`
}

// mostHelped is how many stations the text tells of one by one.
const mostHelped = 12

func (v *Resilience) help(d *Document) {
	if len(v.Help) == 0 {
		return
	}
	d.Title("Help for those cut off")
	for i := range v.Help {
		if i == mostHelped {
			d.Say("And " + Count(len(v.Help)-i, "more", "more") + ": --format json has them.")
			break
		}
		h := &v.Help[i]
		text := h.Station + ", " + h.State + ": " + h.Because
		switch {
		case h.State == "off-air":
			text = h.Station + ": " + h.Because
		case v.Evidence != nil:
			text += " " + v.contacts(h)
		}
		d.Say(text + " Try: " + h.Try)
	}
}

func (v *Resilience) contacts(h *Help) string {
	told := func(c *Contact) string {
		s := c.Station + ", " + v.Clock.At(c.At) + ", " + DB(c.SNRDB)
		if c.Channel != "" {
			s += " on " + c.Channel
		}
		return s
	}
	by, heard := "Nobody has reported it.", "It has reported nobody."
	if h.LastHeardBy != nil {
		by = "Last heard by " + told(h.LastHeardBy) + "."
	}
	if h.LastHeard != nil {
		heard = "Last heard itself: " + told(h.LastHeard) + "."
	}
	return by + " " + heard
}
