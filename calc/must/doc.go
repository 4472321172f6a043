// Package must is the arithmetic of everything before the still: sugar by
// hydrometer and refractometer, what fruit, grain and molasses can give, mash
// and wash, acid and nutrient, and the ferment with its forecast.
//
//	Correct              a reading and its temperature to extract, gravity and g/L
//	Ferment.Assess       extract, attenuation, alcohol so far; CO2, heat, advice
//	Ferment.Forecast     the day it is ready, with an interval
//	Receive, Expect      a delivery at the gate; alcohol to expect, low and high
//	Strike, Infusion, Yield, Cooling        the grain mash
//	Dilute               the molasses wash
//	Feed, Acidify, Enzyme, Pitch            additions
//	Cautions             what to mind, by room
//
// It refuses a refractometer once alcohol is present, a hydrometer above 35 °C,
// an acid dose beyond its bench titration, urea, and a forecast from too few
// readings. Advice is data and never blocks.
//
// Neighbours: spirit has the density of water; calc/book keeps what was read;
// reckon names the calculations. Brix, Plato and Balling are one scale here,
// g of extract in 100 g, and the instrument is what differs.
//
// Its one surprise: extract below zero and attenuation above 100 % are ordinary
// (alcohol is lighter than water) and are never clamped.
package must
