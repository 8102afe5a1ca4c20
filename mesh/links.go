package mesh

import (
	"farhop/mesh/link"
)

// Edge is everything known about one direction of a link on one channel at one
// moment, with the evidence it rests on.
type Edge struct {
	From, To, Channel int
	Fixed             bool           // stated by the plan
	Inferred          bool           // taken from the opposite direction
	Known             bool           // fixed links are always known
	Decode            float64        // chance that one frame decodes, 0…1
	HasSNR            bool           // false for fixed links with a decode figure
	SNR, SD           float64        // dB, when HasSNR
	ClimateSD         float64        // dB, estimated links
	Freshness         float64        // 0…1, 1 for fixed links
	Newest            int64          // Unix seconds of the newest report or miss used, 0 = none
	Reports           int            // reports used
	Unwitnessed       int            // of these, reports without a witness
	Misses            int            // misses used
	Direction         link.Direction // as delivery needs it
}
