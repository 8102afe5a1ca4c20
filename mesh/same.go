package mesh

// sameTable finds the reports of one slot that tell of the same reception: a
// hash table with open addressing, emptied by counting up its generation.
type sameTable struct {
	slots      []sameSlot
	generation uint32
	shift      uint
}

type sameSlot struct {
	generation uint32
	index      int32
}

// begin empties the table and makes room for n reports.
func (s *sameTable) begin(n int) {
	s.generation++
	if 2*n > len(s.slots) || s.generation == 0 {
		bits := uint(6)
		for 1<<bits < 2*n || 1<<bits < len(s.slots) {
			bits++
		}
		s.slots, s.shift, s.generation = make([]sameSlot, 1<<bits), 64-bits, 1
	}
}

// find looks for an entry of cur with h's receiver, sender and band; where there is
// none it notes that h comes next in cur.
func (s *sameTable) find(cur []heard, h *heard) (index int32, seen bool) {
	key := uint64(uint32(h.receiver))<<32 ^ uint64(uint32(h.sender))<<16 ^ uint64(h.code)
	for i := key * 0x9E3779B97F4A7C15 >> s.shift; ; i++ {
		slot := &s.slots[i&uint64(len(s.slots)-1)]
		if slot.generation != s.generation {
			*slot = sameSlot{s.generation, int32(len(cur))}
			return 0, false
		}
		if c := &cur[slot.index]; c.receiver == h.receiver && c.sender == h.sender && c.code == h.code {
			return slot.index, true
		}
	}
}
