package aysen

import "farhop/mesh"

// traffic is the list of the night that begins with the log's end.
func traffic() []Traffic {
	return []Traffic{
		{
			ID: "M1", From: "RANCH", To: "HARBOR", Precedence: mesh.Emergency,
			Text:  "Two injured by rockfall, one child. Need doctor's advice and a boat or helicopter at first light.",
			Ready: at("2026-03-16T02:30"), Deadline: at("2026-03-16T05:00"),
		},
		{
			ID: "M2", From: "HARBOR", To: "OUTPOST", Characters: 100, Precedence: mesh.Priority,
			Ready: at("2026-03-16T02:30"), Deadline: at("2026-03-16T06:00"),
		},
		{
			ID: "M3", From: "DEPOT", To: "HARBOR", Characters: 160, Precedence: mesh.Priority,
			Ready: at("2026-03-16T03:00"), Deadline: at("2026-03-16T07:00"),
		},
		{
			ID: "M4", From: "JETTY", To: "MILL", Characters: 120, Precedence: mesh.Welfare,
			Ready: at("2026-03-16T03:00"), Deadline: at("2026-03-16T10:00"),
		},
		{
			ID: "M5", From: "HARBOR", To: "every-member", Precedence: mesh.Routine,
			Text:  "Supply boat leaves Tuesday 1200Z. Send fuel lists by Monday night.",
			Ready: at("2026-03-16T03:30"), Deadline: at("2026-03-17T00:00"),
		},
		{
			ID: "M6", From: "ISLAND", To: "DEPOT", Characters: 80, Precedence: mesh.Welfare,
			Ready: at("2026-03-16T04:00"), Deadline: at("2026-03-16T10:00"),
		},
		{
			ID: "M7", From: "MEADOW", To: "HARBOR", Characters: 60, Precedence: mesh.Routine,
			Ready: at("2026-03-16T13:00"), Deadline: at("2026-03-16T18:00"),
		},
		{
			ID: "M8", From: "HARBOR", To: "SCHOOL", Characters: 40, Precedence: mesh.Routine,
			Ready: at("2026-03-16T04:00"), Deadline: at("2026-03-16T10:00"),
		},
	}
}
