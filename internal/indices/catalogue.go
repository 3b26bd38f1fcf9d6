package indices

// need says which measured quantities an index depends on.
type need uint8

const (
	needT need = 1 << iota
	needH
	needW
)

// definition is what an index is called, measured in and made by.
type definition struct {
	name, label, unit, convention string
	needs                         need
}

// One parcel's indices, in the order of their block.
const (
	pStart = iota
	pTheta
	pLCL
	pLCLHeight
	pLCLTemperature
	pCape
	pCin
	pLFC
	pLFCHeight
	pEL
	pELHeight
	pCapeT
	pCinT
	pCapeMixed
	pCinMixed
	pLifted
	parcelItems
)

// The parcels.
const (
	surfaceParcel = iota
	mixedParcel
	unstableParcel
	parcelKinds
)

// All indices: the parcels' blocks first.
const (
	iReversibleCape = parcelKinds*parcelItems + iota
	iRompsHeight
	iBoltonTemperature
	iWetBulb
	iWetBulbPotential
	iEquivalent38
	iDowndraft
	iDowndraftStart
	iShowalter
	iK
	iVertical
	iCross
	iTotal
	iLapse700
	iLapse3km
	iShear1
	iShear3
	iShear6
	iMeanSpeed
	iMeanDirection
	iRightSpeed
	iRightDirection
	iLeftSpeed
	iLeftDirection
	iHelicity1Right
	iHelicity3Right
	iHelicity1Left
	iHelicity3Left
	iRichardsonShear
	iRichardsonNumber
	iWater
	iWaterTop
	iWaterMeasured
	iFreezing
	iFreezingHeight
	iWetBulbZero
	iWetBulbZeroHeight
	iBoundaryRichardson
	iBoundaryParcel
	iRefractivity
	iModified
	iRefractivityGradient
	iStability1km
	iStabilityBelow
	iStabilityAbove
	numIndices
)

const (
	pseudo = "pseudo-adiabatic, one latent heat; "
	agl    = "height above the release point; "
)

var parcelNames = [parcelKinds]struct{ name, label string }{
	{"surface", "surface parcel"}, {"mixed_layer", "mixed-layer parcel"}, {"most_unstable", "most unstable parcel"},
}

var parcelDefinitions = [parcelItems]definition{
	pStart:          {"start_pressure", "start", "hPa", "pressure the parcel starts from", needT | needH},
	pTheta:          {"equivalent_potential_temperature", "equivalent potential temperature", "K", "Bolton 1980 eq. 43, condensation temperature by eq. 21", needT | needH},
	pLCL:            {"lcl_pressure", "lifted condensation level", "hPa", "dry adiabat (κ = 2/7) meets constant mixing ratio", needT | needH},
	pLCLHeight:      {"lcl_height", "lifted condensation level", "m", agl + "where the profile has the level's pressure", needT | needH},
	pLCLTemperature: {"lcl_temperature", "temperature of the lifted condensation level", "K", "of the parcel", needT | needH},
	pCape:           {"cape", "CAPE", "J kg-1", pseudo + "virtual temperature for crossings and energy", needT | needH},
	pCin:            {"cin", "CIN", "J kg-1", pseudo + "virtual temperature for crossings and energy; negative parts from the start to the LFC", needT | needH},
	pLFC:            {"lfc_pressure", "level of free convection", "hPa", pseudo + "crossing of virtual temperatures at or above the LCL", needT | needH},
	pLFCHeight:      {"lfc_height", "level of free convection", "m", agl + "crossing of virtual temperatures", needT | needH},
	pEL:             {"el_pressure", "level of neutral buoyancy", "hPa", pseudo + "crossing of virtual temperatures", needT | needH},
	pELHeight:       {"el_height", "level of neutral buoyancy", "m", agl + "crossing of virtual temperatures", needT | needH},
	pCapeT:          {"cape_temperature", "CAPE by temperature", "J kg-1", pseudo + "temperature for crossings and energy", needT | needH},
	pCinT:           {"cin_temperature", "CIN by temperature", "J kg-1", pseudo + "temperature for crossings and energy; negative parts", needT | needH},
	pCapeMixed:      {"cape_temperature_crossings", "CAPE, crossings by temperature", "J kg-1", pseudo + "temperature for crossings, virtual temperature for energy", needT | needH},
	pCinMixed:       {"cin_temperature_crossings", "CIN, crossings by temperature", "J kg-1", pseudo + "temperature for crossings, virtual temperature for energy; negative parts", needT | needH},
	pLifted:         {"lifted_index", "lifted index", "K", "temperature of the air at 500 hPa minus that of the parcel, pseudo-adiabatic", needT | needH},
}

var definitions = func() (d [numIndices]definition) {
	for k, p := range parcelNames {
		for i, x := range parcelDefinitions {
			x.name, x.label = p.name+"_"+x.name, x.label+", "+p.label
			d[k*parcelItems+i] = x
		}
	}
	for i, x := range map[int]definition{
		iReversibleCape:       {"mixed_layer_cape_reversible", "CAPE of a reversible ascent, mixed-layer parcel", "J kg-1", "all condensate stays as liquid and weighs; virtual temperature for crossings and energy", needT | needH},
		iRompsHeight:          {"surface_lcl_height_romps", "lifted condensation level by Romps 2017, surface parcel", "m", "above the parcel; closed form, its own saturation curve", needT | needH},
		iBoltonTemperature:    {"surface_lcl_temperature_bolton", "temperature of the lifted condensation level by Bolton 1980, surface parcel", "K", "eq. 15", needT | needH},
		iWetBulb:              {"surface_wet_bulb_temperature", "wet-bulb temperature at the surface", "K", "isobaric (thermodynamic), over liquid water", needT | needH},
		iWetBulbPotential:     {"surface_wet_bulb_potential_temperature", "wet-bulb potential temperature at the surface", "K", "pseudo-adiabat to 1000 hPa", needT | needH},
		iEquivalent38:         {"surface_equivalent_potential_temperature_bolton_38", "equivalent potential temperature at the surface by Bolton 1980 eq. 38", "K", "condensation temperature by eq. 15", needT | needH},
		iDowndraft:            {"downdraft_cape", "downdraft CAPE", "J kg-1", "from the least equivalent potential temperature, at its wet bulb, kept saturated to the surface; virtual temperature, negative parts included", needT | needH},
		iDowndraftStart:       {"downdraft_start_pressure", "start of the downdraft", "hPa", "least equivalent potential temperature (Bolton 1980 eq. 43)", needT | needH},
		iShowalter:            {"showalter_index", "Showalter index", "K", "temperature at 500 hPa minus that of the parcel from 850 hPa, pseudo-adiabatic", needT | needH},
		iK:                    {"k_index", "K index", "degC", "(T850 − T500) + Td850 − (T700 − Td700)", needT | needH},
		iVertical:             {"vertical_totals", "vertical totals", "K", "T850 − T500", needT},
		iCross:                {"cross_totals", "cross totals", "K", "Td850 − T500", needT | needH},
		iTotal:                {"total_totals", "total totals", "K", "T850 + Td850 − 2 T500", needT | needH},
		iLapse700:             {"lapse_rate_700_500", "lapse rate 700 to 500 hPa", "K km-1", "difference of temperature over difference of height", needT},
		iLapse3km:             {"lapse_rate_0_3_km", "lapse rate 0 to 3 km", "K km-1", "difference of temperature over 3 km above the release point", needT},
		iShear1:               {"shear_0_1_km", "bulk shear 0 to 1 km", "m s-1", "vector difference of the winds at the two heights above the release point", needW},
		iShear3:               {"shear_0_3_km", "bulk shear 0 to 3 km", "m s-1", "vector difference of the winds at the two heights above the release point", needW},
		iShear6:               {"shear_0_6_km", "bulk shear 0 to 6 km", "m s-1", "vector difference of the winds at the two heights above the release point", needW},
		iMeanSpeed:            {"mean_wind_0_6_km_speed", "mean wind 0 to 6 km, speed", "m s-1", "mean over height by components", needW},
		iMeanDirection:        {"mean_wind_0_6_km_direction", "mean wind 0 to 6 km, from", "degree", "mean over height by components", needW},
		iRightSpeed:           {"storm_motion_right_speed", "motion of a right-moving supercell, speed", "m s-1", "Bunkers et al. 2000: mean wind 0–6 km and 7.5 m/s to the right of the shear", needW},
		iRightDirection:       {"storm_motion_right_direction", "motion of a right-moving supercell, from", "degree", "Bunkers et al. 2000", needW},
		iLeftSpeed:            {"storm_motion_left_speed", "motion of a left-moving supercell, speed", "m s-1", "Bunkers et al. 2000: mean wind 0–6 km and 7.5 m/s to the left of the shear", needW},
		iLeftDirection:        {"storm_motion_left_direction", "motion of a left-moving supercell, from", "degree", "Bunkers et al. 2000", needW},
		iHelicity1Right:       {"helicity_0_1_km_right", "storm-relative helicity 0 to 1 km, right-moving storm", "m2 s-2", "positive for veering; motion by Bunkers et al. 2000", needW},
		iHelicity3Right:       {"helicity_0_3_km_right", "storm-relative helicity 0 to 3 km, right-moving storm", "m2 s-2", "positive for veering; motion by Bunkers et al. 2000", needW},
		iHelicity1Left:        {"helicity_0_1_km_left", "storm-relative helicity 0 to 1 km, left-moving storm", "m2 s-2", "positive for veering; motion by Bunkers et al. 2000", needW},
		iHelicity3Left:        {"helicity_0_3_km_left", "storm-relative helicity 0 to 3 km, left-moving storm", "m2 s-2", "positive for veering; motion by Bunkers et al. 2000", needW},
		iRichardsonShear:      {"bulk_richardson_shear", "shear term of the bulk Richardson number", "m2 s-2", "half the squared difference of the mean winds 0–6 km and 0–0.5 km, over height", needW},
		iRichardsonNumber:     {"bulk_richardson_number", "bulk Richardson number", "1", "CAPE of the mixed-layer parcel (virtual temperature) over the shear term", needT | needH | needW},
		iWater:                {"precipitable_water", "precipitable water", "mm", "specific humidity integrated over pressure by trapezium", needT | needH},
		iWaterTop:             {"precipitable_water_top", "top of precipitable water", "hPa", "where the integral ends", 0},
		iWaterMeasured:        {"precipitable_water_measured", "share of the column measured", "1", "share of the pressure depth from the surface to 300 hPa with humidity not bridged over a gap", 0},
		iFreezing:             {"freezing_level_pressure", "freezing level", "hPa", "lowest fall of the temperature through 0 °C", needT},
		iFreezingHeight:       {"freezing_level_height", "freezing level", "m", "above mean sea level", needT},
		iWetBulbZero:          {"wet_bulb_zero_pressure", "wet-bulb zero", "hPa", "lowest fall of the isobaric wet-bulb temperature through 0 °C", needT | needH},
		iWetBulbZeroHeight:    {"wet_bulb_zero_height", "wet-bulb zero", "m", "above mean sea level", needT | needH},
		iBoundaryRichardson:   {"boundary_layer_richardson", "boundary-layer height by bulk Richardson number", "m", agl + "wind at the ground 0; on layer means", needT | needH | needW},
		iBoundaryParcel:       {"boundary_layer_parcel", "boundary-layer height by the parcel method", "m", agl + "virtual potential temperature; on layer means", needT | needH},
		iRefractivity:         {"surface_refractivity", "refractivity at the surface", "1e-6", "ITU-R P.453, three terms", needT | needH},
		iModified:             {"surface_modified_refractivity", "modified refractivity at the surface", "1e-6", "N + 0.157 h, h above mean sea level", needT | needH},
		iRefractivityGradient: {"refractivity_gradient_1_km", "refractivity gradient 0 to 1 km", "1e-6 km-1", "N at 1 km above the release point minus N at the surface", needT | needH},
		iStability1km:         {"static_stability_0_1_km", "static stability 0 to 1 km", "s-2", "N² = g d ln θv/dz between the ends of the layer", needT | needH},
		iStabilityBelow:       {"static_stability_below_tropopause", "static stability below the tropopause", "s-2", "N² = g d ln θ/dz over the kilometre below the lowest tropopause", needT},
		iStabilityAbove:       {"static_stability_above_tropopause", "static stability above the tropopause", "s-2", "N² = g d ln θ/dz over the kilometre above the lowest tropopause", needT},
	} {
		d[i] = x
	}
	return d
}()
