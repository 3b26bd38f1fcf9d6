package ingest

import "leadline/internal/sounding"

// memory is what the reports of a stream are built in, one after the other. Its zero
// value is ready; nil gives every report memory of its own.
type memory struct {
	numbers block[float64]
	places  block[int]
	lines   block[int32]
	flags   block[bool]
	origins block[uint8]
	table   table
	record  *sounding.LaunchRecord
	raw     sounding.Raw
	source  [1]sounding.Source
}

// block is memory that slices are cut from.
type block[T any] struct {
	all  []T
	used int
}

// cut returns n values, not cleared.
func (b *block[T]) cut(n, ahead int) []T {
	if b.used+n > len(b.all) {
		b.all, b.used = make([]T, max(2*len(b.all), ahead*n, 512)), 0
	}
	out := b.all[b.used : b.used+n : b.used+n]
	b.used += n
	return out
}

// again gives all memory back: what was cut from it ends.
func (m *memory) again() {
	m.numbers.used, m.places.used, m.lines.used, m.flags.used, m.origins.used = 0, 0, 0, 0, 0
}

// floats returns n numbers, not cleared.
func (m *memory) floats(n int) []float64 {
	if m == nil {
		return make([]float64, n)
	}
	return m.numbers.cut(n, 16)
}

// indices returns n whole numbers, not cleared.
func (m *memory) indices(n int) []int {
	if m == nil {
		return make([]int, n)
	}
	return m.places.cut(n, 3)
}

// bools returns n times false.
func (m *memory) bools(n int) []bool {
	if m == nil {
		return make([]bool, n)
	}
	out := m.flags.cut(n, 2)
	clear(out)
	return out
}

// rowNumbers returns n line numbers, not cleared.
func (m *memory) rowNumbers(n int) []int32 {
	if m == nil {
		return make([]int32, n)
	}
	return m.lines.cut(n, 2)
}

// onlySource returns n times source 0.
func (m *memory) onlySource(n int) []uint8 {
	if m == nil {
		return make([]uint8, n)
	}
	out := m.origins.cut(n, 1)
	clear(out)
	return out
}

// copied returns a copy.
func (m *memory) copied(values []float64) []float64 {
	out := m.floats(len(values))
	copy(out, values)
	return out
}

// picked returns the values in another order.
func (m *memory) picked(values []float64, order []int) []float64 {
	out := m.floats(len(order))
	for i, k := range order {
		out[i] = values[k]
	}
	return out
}

// pickedLines returns line numbers in another order.
func (m *memory) pickedLines(lines []int32, order []int) []int32 {
	out := m.rowNumbers(len(order))
	for i, k := range order {
		out[i] = lines[k]
	}
	return out
}

// newTable returns an empty table with a launch record in which nothing is set.
func (m *memory) newTable() *table {
	if m == nil {
		return &table{record: sounding.NewLaunchRecord(), series: make([]sounding.Series, 0, 10)}
	}
	if m.record == nil {
		m.record = sounding.NewLaunchRecord()
		m.table.record = new(sounding.LaunchRecord)
	}
	t := &m.table
	*t.record = *m.record // its lines stay empty: messages have none
	*t = table{record: t.record, memory: m, header: t.header[:0], series: t.series[:0], extra: t.extra[:0], findings: t.findings[:0]}
	return t
}

// newRaw returns an empty sounding of one source.
func (m *memory) newRaw(source sounding.Source) *sounding.Raw {
	if m == nil {
		return &sounding.Raw{Sources: []sounding.Source{source}}
	}
	m.source[0] = source
	m.raw = sounding.Raw{Sources: m.source[:]}
	return &m.raw
}
