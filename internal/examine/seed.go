package examine

// Purpose says what a flight is simulated for.
type Purpose uint64

// The purposes. Their seeds are disjoint: the top bit of a reporting seed is set, that
// of a tuning seed is not.
const (
	Tuning    Purpose = 0
	Reporting Purpose = 1
)

// Seed returns the seed of flight n of a case for a purpose.
func Seed(p Purpose, caseName string, n int) uint64 {
	h := uint64(14695981039346656037) // FNV-1a
	for i := 0; i < len(caseName); i++ {
		h = (h ^ uint64(caseName[i])) * 1099511628211
	}
	h += uint64(n) * 0x9e3779b97f4a7c15
	h ^= h >> 30
	h *= 0xbf58476d1ce4e5b9
	h ^= h >> 27
	h *= 0x94d049bb133111eb
	h ^= h >> 31
	return h>>1 | uint64(p&1)<<63
}
