package timetable

// mostMembers is the size of net up to which the fewest transmissions are sought.
const mostMembers = 256

// members is a set of stations.
type members [mostMembers / 64]uint64

func (m *members) add(v int) { m[v>>6] |= 1 << (v & 63) }

func (m *members) has(v int) bool { return m[v>>6]>>(v&63)&1 != 0 }

// within reports whether all of them are in the other set.
func (m *members) within(other *members) bool {
	for i, w := range m {
		if w&^other[i] != 0 {
			return false
		}
	}
	return true
}

func (m *members) join(other *members) {
	for i, w := range other {
		m[i] |= w
	}
}

// without is those of them that the other set lacks.
func (m members) without(other *members) members {
	for i, w := range other {
		m[i] &^= w
	}
	return m
}
