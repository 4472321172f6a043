// Package calc is the trade's arithmetic and the book that rests on it. The
// root holds no code, only this map and the test that keeps the walls between
// the packages.
//
//	formula or rule                          package   publication
//	density of ethanol and water             spirit    OIML R 22, general formula
//	true proof from a hydrometer             spirit    27 CFR 30.23, 30.31 and Table 1
//	gauging by volume, by weight             spirit    27 CFR 30.41 to 30.52, 30.62 to 30.66
//	reduction, blending, obscuration         spirit    27 CFR 30.32, 30.61, 30.66, 30.71
//	uncertainty                              quantity  JCGM 100:2008
//	sugar, gravity, fermentation             must      see its package comment
//	vapour and liquid, batch distillation    still     see its package comment
//	maturation, evaporation                  cask      see its package comment
//	carbonation, pressure in cans            fizz      see its package comment
//	net contents, samples, reconciliation    fill      27 CFR 19.356; NIST Handbook 133
//	tax, returns, due dates                  duty      26 USC 5001; 27 CFR 19.235
//	accounts, records                        book      27 CFR part 19
//	monthly figures                          report    27 CFR 19.632; TTB F 5110.40, 5110.11, 5110.28
//
// Nothing below calc reads a clock, a file or a network, and nothing knows how
// entries travel: the same packages run in the browser and in the server.
package calc
