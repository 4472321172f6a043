// Package must is the arithmetic of everything before the still: sugar by
// hydrometer and refractometer, what fruit, grain and molasses can give, mash
// and wash, acid and nutrient, and the ferment with its forecast.
//
//	Correct              a reading and its temperature   NBS Circular 440, ICUMSA
//	Attenuate, Turn      extract to alcohol, CO2, heat   Balling; molar masses
//	Receive, Expect      a delivery, alcohol to expect   German and Austrian rates,
//	                     19 CFR 151.91, handbooks
//	StrikeTemperature, Infuse, Yield, CoolingTime        heat and extract balance
//	Dilute               the molasses wash               mass balance
//	Feed, Acidify, Enzyme, Pitch                         additions
//	Ferment.Assess       where a ferment stands, advice  practice, each with source
//	Ferment.Forecast     the day it is ready, with an interval (its own tests)
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
