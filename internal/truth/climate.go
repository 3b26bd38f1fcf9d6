package truth

import "fmt"

// Climate names the kind of air a flight goes through.
type Climate string

// The climates.
const (
	Tropical          Climate = "tropical"
	MidLatitudeSummer Climate = "mid-latitude summer"
	MidLatitudeWinter Climate = "mid-latitude winter"
	PolarNight        Climate = "polar night"
	Desert            Climate = "desert"
	Marine            Climate = "marine"
	HighPlateau       Climate = "high plateau"
)

// Climates lists all climates in a fixed order.
func Climates() []Climate {
	return []Climate{Tropical, MidLatitudeSummer, MidLatitudeWinter, PolarNight, Desert, Marine, HighPlateau}
}

// spread is a mean with its day-to-day standard deviation.
type spread struct{ mean, sd float64 }

func (p spread) draw(s *stream) float64 { return s.near(p.mean, p.sd) }

// point is a height in km with a temperature in °C.
type point struct{ km, celsius float64 }

// climateSheet holds what makes a climate; typical figures of the trade, from memory,
// within the tropopause windows of the methods sheet where it gives one.
type climateSheet struct {
	latitude, longitude float64 // of the preset site
	height              float64 // of the preset site, m
	month               int     // of the preset release
	day, night          spread  // screen temperature, °C
	mixed               spread  // depth of the daytime mixed layer, m
	ground              spread  // strength of the ground inversion at night, K
	groundDepth         float64 // m
	cap                 spread  // inversion on top of the boundary layer, K
	capNight            spread  // height above ground of that inversion at night, m
	residual            spread  // K km⁻¹, lapse of the boundary layer above the ground inversion at night
	tropopause          spread  // m above sea level
	tropopauseT         spread  // °C
	second              float64 // chance of a second tropopause; middle latitudes have it
	above               []point // stratosphere
	surfaceHumidity     spread  // %, by day; 25 % moister by night
	lowerWet, upperWet  spread  // share of saturation of the free troposphere, 0–1
	warm, mixedCloud    float64 // chance of a cloud layer of each kind
	cold                float64
	intrusion           float64 // chance of a dry intrusion
	jet                 spread  // m/s, just below the tropopause
	jetFrom             spread  // degrees it blows from
	surfaceWind         spread  // m/s
	stratosphereWind    spread  // m/s towards east, at 35 km
	dark                bool    // no sun at noon either
}

var climateSheets = map[Climate]*climateSheet{
	Tropical: {
		latitude: -3.2, longitude: 131.4, height: 24, month: 2,
		day: spread{30, 1.5}, night: spread{25.5, 1.2}, mixed: spread{650, 120}, ground: spread{0.8, 0.4}, groundDepth: 120,
		cap: spread{0.8, 0.4}, capNight: spread{600, 100}, residual: spread{6.3, 0.4}, tropopause: spread{16700, 350}, tropopauseT: spread{-80.5, 2.2},
		above:           []point{{20, -67}, {25, -54}, {30, -44}, {35, -34}, {42, -17}},
		surfaceHumidity: spread{72, 7}, lowerWet: spread{0.68, 0.15}, upperWet: spread{0.5, 0.2}, warm: 0.7, mixedCloud: 0.5, cold: 0.6, intrusion: 0.5,
		jet: spread{18, 7}, jetFrom: spread{80, 30}, surfaceWind: spread{3.5, 1.5}, stratosphereWind: spread{-22, 8},
	},
	MidLatitudeSummer: {
		latitude: 46.3, longitude: 21.7, height: 182, month: 7,
		day: spread{24, 4}, night: spread{14, 3}, mixed: spread{1500, 350}, ground: spread{4, 1.5}, groundDepth: 220,
		cap: spread{1.5, 0.7}, capNight: spread{1400, 250}, residual: spread{6.8, 0.5}, tropopause: spread{11700, 700}, tropopauseT: spread{-57.5, 3}, second: 0.25,
		above:           []point{{20, -54.5}, {25, -48}, {30, -41}, {35, -32}, {42, -14}},
		surfaceHumidity: spread{55, 10}, lowerWet: spread{0.55, 0.2}, upperWet: spread{0.45, 0.2}, warm: 0.5, mixedCloud: 0.5, cold: 0.5, intrusion: 0.6,
		jet: spread{27, 9}, jetFrom: spread{255, 25}, surfaceWind: spread{3.5, 1.6}, stratosphereWind: spread{-9, 4},
	},
	MidLatitudeWinter: {
		latitude: 46.3, longitude: 21.7, height: 182, month: 1,
		day: spread{1, 4}, night: spread{-4, 4}, mixed: spread{600, 200}, ground: spread{4, 2}, groundDepth: 250,
		cap: spread{3, 1.2}, capNight: spread{800, 200}, residual: spread{6, 0.6}, tropopause: spread{10500, 700}, tropopauseT: spread{-60, 3}, second: 0.4,
		above:           []point{{20, -61}, {25, -58}, {30, -50}, {35, -40}, {42, -22}},
		surfaceHumidity: spread{78, 8}, lowerWet: spread{0.6, 0.2}, upperWet: spread{0.5, 0.2}, warm: 0.35, mixedCloud: 0.7, cold: 0.5, intrusion: 0.6,
		jet: spread{42, 11}, jetFrom: spread{265, 20}, surfaceWind: spread{4.5, 2}, stratosphereWind: spread{30, 9},
	},
	PolarNight: {
		latitude: 74.6, longitude: 98.3, height: 11, month: 1, dark: true,
		day: spread{-29, 4}, night: spread{-29, 4}, mixed: spread{0, 0}, ground: spread{11, 3}, groundDepth: 500,
		cap: spread{0.5, 0.3}, capNight: spread{1500, 200}, residual: spread{6, 0.5}, tropopause: spread{8900, 500}, tropopauseT: spread{-61, 2.5},
		above:           []point{{14, -65.5}, {20, -74}, {25, -77}, {30, -69}, {35, -57}, {42, -40}},
		surfaceHumidity: spread{58, 6}, lowerWet: spread{0.6, 0.15}, upperWet: spread{0.5, 0.2}, warm: 0, mixedCloud: 0.4, cold: 0.6, intrusion: 0.3,
		jet: spread{22, 7}, jetFrom: spread{240, 60}, surfaceWind: spread{3.5, 1.7}, stratosphereWind: spread{36, 10},
	},
	Desert: {
		latitude: 24.4, longitude: 12.6, height: 540, month: 7,
		day: spread{35.5, 1.8}, night: spread{23, 2}, mixed: spread{3300, 450}, ground: spread{6, 2}, groundDepth: 250,
		cap: spread{1.0, 0.5}, capNight: spread{3200, 400}, residual: spread{8.8, 0.3}, tropopause: spread{15600, 600}, tropopauseT: spread{-71, 2.5},
		above:           []point{{20, -62}, {25, -51}, {30, -42}, {35, -33}, {42, -16}},
		surfaceHumidity: spread{16, 4}, lowerWet: spread{0.3, 0.12}, upperWet: spread{0.3, 0.18}, warm: 0.05, mixedCloud: 0.3, cold: 0.35, intrusion: 0.6,
		jet: spread{20, 8}, jetFrom: spread{260, 40}, surfaceWind: spread{4.5, 1.8}, stratosphereWind: spread{-18, 6},
	},
	Marine: {
		latitude: 29.1, longitude: -28.4, height: 18, month: 6,
		day: spread{20, 1.5}, night: spread{18.5, 1.2}, mixed: spread{1150, 150}, ground: spread{0.3, 0.2}, groundDepth: 80,
		cap: spread{7, 1.8}, capNight: spread{1150, 150}, residual: spread{7.5, 0.5}, tropopause: spread{14600, 600}, tropopauseT: spread{-66, 2.5},
		above:           []point{{20, -60}, {25, -50}, {30, -42}, {35, -33}, {42, -16}},
		surfaceHumidity: spread{77, 5}, lowerWet: spread{0.25, 0.12}, upperWet: spread{0.35, 0.18}, warm: 0.85, mixedCloud: 0.15, cold: 0.4, intrusion: 0.7,
		jet: spread{28, 9}, jetFrom: spread{255, 30}, surfaceWind: spread{7, 2}, stratosphereWind: spread{-14, 5},
	},
	HighPlateau: {
		latitude: 33.6, longitude: 88.9, height: 3870, month: 7,
		day: spread{13, 2.3}, night: spread{2.5, 2}, mixed: spread{1900, 350}, ground: spread{4, 1.5}, groundDepth: 200,
		cap: spread{1.2, 0.6}, capNight: spread{1500, 300}, residual: spread{7.8, 0.4}, tropopause: spread{16600, 500}, tropopauseT: spread{-75.5, 2.5},
		above:           []point{{20, -62}, {25, -51}, {30, -42}, {35, -33}, {42, -15}},
		surfaceHumidity: spread{45, 9}, lowerWet: spread{0.6, 0.18}, upperWet: spread{0.5, 0.2}, warm: 0.2, mixedCloud: 0.6, cold: 0.6, intrusion: 0.4,
		jet: spread{22, 8}, jetFrom: spread{265, 40}, surfaceWind: spread{3.5, 1.5}, stratosphereWind: spread{-16, 6},
	},
}

func (c Climate) sheet() (*climateSheet, error) {
	if s := climateSheets[c]; s != nil {
		return s, nil
	}
	return nil, fmt.Errorf("climate %q is not known: use one of %q", string(c), Climates())
}
