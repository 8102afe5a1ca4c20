package mesh

// linkTable numbers the pairs that have had an opportunity, first come first.
type linkTable struct {
	members, bands int
	rows           [][]int32 // by sender and band: by receiver, number plus one
	pairs          []Pair
}

func newLinkTable(members, bands int) linkTable {
	return linkTable{members: members, bands: bands, rows: make([][]int32, members*bands)}
}

// find is a pair's number, −1 without any opportunity yet.
func (l *linkTable) find(from, to, band int32) int32 {
	row := l.rows[int(from)*l.bands+int(band)]
	if row == nil {
		return -1
	}
	return row[to] - 1
}

// get is a pair's number, a new one where needed.
func (l *linkTable) get(from, to, band int32) int32 {
	row := &l.rows[int(from)*l.bands+int(band)]
	if *row == nil {
		*row = make([]int32, l.members)
	}
	if (*row)[to] == 0 {
		l.pairs = append(l.pairs, Pair{from, to, band})
		(*row)[to] = int32(len(l.pairs))
	}
	return (*row)[to] - 1
}

// outbox gathers events into batches, one for each shard of the links, of which
// there are a power of two.
type outbox struct {
	batches [][]Event
	flush   func(shard int, batch []Event) []Event // returns an empty batch to go on with
}

func newOutbox(shards int, flush func(int, []Event) []Event) outbox {
	o := outbox{batches: make([][]Event, shards), flush: flush}
	for i := range o.batches {
		o.batches[i] = make([]Event, 0, batchSize)
	}
	return o
}

func (o *outbox) send(e Event) {
	shard := int(e.Link) & (len(o.batches) - 1)
	b := append(o.batches[shard], e)
	if len(b) == batchSize {
		b = o.flush(shard, b)
	}
	o.batches[shard] = b
}

func (o *outbox) flushAll() {
	for i, b := range o.batches {
		if len(b) > 0 {
			o.batches[i] = o.flush(i, b)
		}
	}
}
