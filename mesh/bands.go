package mesh

import "farhop/observations"

// bands numbers the bands of a net's channels in plan order. Channels on one
// band share one link a pair.
type bands struct {
	list    []observations.Band
	channel []int // band number of each channel
}

func makeBands(n *Net) bands {
	var b bands
	for _, c := range n.Channels {
		band := observations.BandOf(c.Frequency)
		i := b.number(band)
		if i < 0 {
			i = len(b.list)
			b.list = append(b.list, band)
		}
		b.channel = append(b.channel, i)
	}
	return b
}

// number is a band's, −1 where no channel is on it. Nets have few bands.
func (b *bands) number(band observations.Band) int {
	for i, x := range b.list {
		if x == band {
			return i
		}
	}
	return -1
}

// channels are those on the band of that number.
func (b *bands) channels(number int) (list []int) {
	for c, n := range b.channel {
		if n == number {
			list = append(list, c)
		}
	}
	return list
}
