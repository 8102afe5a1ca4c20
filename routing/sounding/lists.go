package sounding

import "math"

// frames is how many frames a list takes that holds so many characters of reports,
// 0 for none.
func (sc *scene) frames(receiver int, characters float64) int {
	if characters <= 0 {
		return 0
	}
	return sc.net.Slots.Frames(listCharacters + len(sc.net.Stations[receiver].Call) + int(math.Ceil(characters-1e-9)))
}

// blocks is in how many blocks so many frames go.
func (sc *scene) blocks(frames int) int {
	if b := sc.net.Slots.Block; b > 0 {
		return (frames + b - 1) / b
	}
	return min(frames, 1)
}

// listSeconds is the keyed time of passing a list on.
func (sc *scene) listSeconds(receiver, period int, characters float64) float64 {
	p := sc.passes[receiver][period]
	if p == nil {
		return 0
	}
	frames := sc.frames(receiver, characters)
	sum := 0.0
	for i := range p.Stations {
		sum += p.keyed(i, frames, sc.blocks(frames))
	}
	return sum
}

// keyed is what one station on the way keys for a list.
func (p *Pass) keyed(i, frames, blocks int) float64 {
	return float64(frames)*p.FrameSeconds[i] + float64(blocks)*p.BlockSeconds[i]
}
