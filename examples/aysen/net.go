package aysen

import (
	"fmt"

	"farhop/mesh"
	"farhop/mesh/link"
)

// Net returns what the plan says as a prepared mesh.Net, the same as reading
// the text of Plan. It fails only on a mistake in the tables.
func (s *Scenario) Net() (*mesh.Net, error) {
	net := &mesh.Net{
		Name: s.Name, Slots: s.Slots, Link: link.Defaults(),
		CommonDB: mesh.DefaultCommonDB, Evidence: mesh.DefaultEvidence(),
	}
	for _, c := range s.Channels {
		w, err := mesh.ParseWindows(c.Windows)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", c.Name, err)
		}
		net.Channels = append(net.Channels, mesh.Channel{
			Name: c.Name, Frequency: c.FrequencyHz, Windows: w, OffsetsHz: append([]int(nil), c.OffsetsHz...),
		})
	}
	for _, st := range s.Stations {
		w, err := mesh.ParseWindows(st.OnAir)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", st.Call, err)
		}
		supply := st.Supply
		net.Stations = append(net.Stations, mesh.Station{
			Call: st.Call, Also: append([]string(nil), st.Also...), Locator: st.Locator, PowerW: st.PowerW, MaxPowerW: st.MaxPowerW,
			Channels: append([]int(nil), st.Channels...), OnAir: w, Watch: st.Watch, Roles: append([]string(nil), st.Roles...),
			Soundings: append([]mesh.Sounding(nil), st.Soundings...), Supply: &supply,
		})
	}
	for _, m := range s.Traffic {
		to := mesh.EveryMember
		if m.To != everyMember {
			to = index(s.Stations, m.To)
		}
		net.Traffic = append(net.Traffic, mesh.Message{
			ID: m.ID, From: index(s.Stations, m.From), To: to, Characters: m.Characters, Text: m.Text,
			Precedence: m.Precedence, Ready: m.Ready, Deadline: m.Deadline,
		})
	}
	if issues := net.Prepare(); len(issues) > 0 {
		return nil, fmt.Errorf("the plan has %d problems, first %s: %s", len(issues), issues[0].Path, issues[0].Message)
	}
	return net, nil
}

// everyMember is how a plan addresses all stations but the sender.
const everyMember = "every-member"
