package growth

// PerfringensCode returns the code of the C. perfringens model for a chill, by
// species ("beef", "chicken", "pork"; another is taken for beef, the fastest),
// ingoing nitrite and whether ascorbate or erythorbate is in the recipe.
//
// No published model with the nitrite dose could be read, so nitrite only decides
// the branch (choice of this project): at least 100 ppm with the accelerator is
// the model for product with nitrite; from 50 ppm, or without the accelerator, the
// model by salt and pH; less, or not known, the one without nitrite.
func PerfringensCode(species string, nitritePPM float64, accelerator bool) string {
	switch {
	case nitritePPM >= 100 && accelerator:
		return "CP_CURED"
	case nitritePPM >= 50:
		return "CP_LM08"
	}
	switch species {
	case "chicken":
		return "CP_CHICKEN"
	case "pork":
		return "CP_PORK"
	}
	return "CP_BEEF"
}
