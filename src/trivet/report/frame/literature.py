"""Works that the methods refer to, numbered in the order in which they are cited."""

from __future__ import annotations

WORKS: dict[str, str] = {
    "IEC 61960-4": "IEC 61960-4:2020, Secondary lithium cells for portable applications, Part 4: "
    "coin secondary lithium cells.",
    "Kaplan 1958": "E. L. Kaplan, P. Meier, Nonparametric estimation from incomplete observations, "
    "J. Am. Stat. Assoc. 53 (1958) 457-481.",
    "Mantel 1966": "N. Mantel, Evaluation of survival data and two new rank order statistics "
    "arising in its consideration, Cancer Chemother. Rep. 50 (1966) 163-170.",
    "Peto 1972": "R. Peto, J. Peto, Asymptotically efficient rank invariant test procedures, "
    "J. R. Stat. Soc. A 135 (1972) 185-207.",
    "Callaert 2003": "H. Callaert, The American Statistician 57 (2003) 214-217 "
    "(exact log-rank test).",
    "Heinze 2003": "G. Heinze, M. Gnant, M. Schemper, Exact log-rank tests for unequal follow-up, "
    "Biometrics 59 (2003) 1151-1157.",
    "Wang 2010": "R. Wang, S. W. Lagakos, R. J. Gray, Testing and interval estimation for "
    "two-sample survival comparisons with small sample sizes and unequal censoring, "
    "Biostatistics 11 (2010) 676-692.",
    "Finkelstein 1986": "D. M. Finkelstein, A proportional hazards model for interval-censored "
    "failure time data, Biometrics 42 (1986) 845-854.",
    "Turnbull 1976": "B. W. Turnbull, The empirical distribution function with arbitrarily "
    "grouped, censored and truncated data, J. R. Stat. Soc. B 38 (1976) 290-295.",
    "Fay 2013": "M. P. Fay, E. H. Brittain, M. A. Proschan, Pointwise confidence intervals for a "
    "survival distribution with small samples or heavy censoring, Biostatistics 14 (2013) "
    "723-736.",
    "Gray 1988": "R. J. Gray, A class of K-sample tests for comparing the cumulative incidence of "
    "a competing risk, Ann. Stat. 16 (1988) 1141-1154.",
    "Marcus 1976": "R. Marcus, E. Peritz, K. R. Gabriel, On closed testing procedures with special "
    "reference to ordered analysis of variance, Biometrika 63 (1976) 655-660.",
    "Lan 1983": "K. K. G. Lan, D. L. DeMets, Discrete sequential boundaries for clinical trials, "
    "Biometrika 70 (1983) 659-663.",
    "Tarone 1975": "R. E. Tarone, Tests for trend in life table analysis, "
    "Biometrika 62 (1975) 679-682.",
    "Holm 1979": "S. Holm, A simple sequentially rejective multiple test procedure, "
    "Scand. J. Stat. 6 (1979) 65-70.",
    "Viechtbauer 2005": "W. Viechtbauer, Bias and efficiency of meta-analytic variance estimators "
    "in the random-effects model, J. Educ. Behav. Stat. 30 (2005) 261-293.",
    "Viechtbauer 2007": "W. Viechtbauer, Confidence intervals for the amount of heterogeneity in "
    "meta-analysis, Stat. Med. 26 (2007) 37-52.",
    "Roever 2020": "C. Röver, Bayesian random-effects meta-analysis using the bayesmeta R package, "
    "J. Stat. Softw. 93 (6) (2020).",
    "Friede 2017": "T. Friede, C. Röver, S. Wandel, B. Neuenschwander, Meta-analysis of few small "
    "studies in orphan diseases, Res. Synth. Methods 8 (2017) 79-91.",
    "Cox 1972": "D. R. Cox, Regression models and life-tables, "
    "J. R. Stat. Soc. B 34 (1972) 187-220.",
    "Efron 1977": "B. Efron, The efficiency of Cox's likelihood function for censored data, "
    "J. Am. Stat. Assoc. 72 (1977) 557-565.",
    "Firth 1993": "D. Firth, Bias reduction of maximum likelihood estimates, "
    "Biometrika 80 (1993) 27-38.",
    "Aalen 1978": "O. O. Aalen, S. Johansen, An empirical transition matrix for non-homogeneous "
    "Markov chains based on censored observations, Scand. J. Stat. 5 (1978) 141-150.",
    "Altman 1995": "D. G. Altman, J. M. Bland, Absence of evidence is not evidence of absence, "
    "BMJ 311 (1995) 485.",
    "Elteren 1960": "P. van Elteren, On the combination of independent two-sample tests of "
    "Wilcoxon, Bull. Inst. Int. Statist. 37 (1960) 351.",
    "Hodges 1963": "J. L. Hodges, E. L. Lehmann, Estimates of location based on rank tests, "
    "Ann. Math. Stat. 34 (1963) 598-611.",
    "Sen 1968": "P. K. Sen, Estimates of the regression coefficient based on Kendall's tau, "
    "J. Am. Stat. Assoc. 63 (1968) 1379-1389.",
    "Boukamp 1995": "B. A. Boukamp, A linear Kronig-Kramers transform test for immittance data "
    "validation, J. Electrochem. Soc. 142 (1995) 1885-1894.",
    "Schoenleber 2014": "M. Schönleber, D. Klotz, E. Ivers-Tiffée, A method for improving the "
    "robustness of linear Kramers-Kronig validity tests, Electrochim. Acta 131 (2014) 20-27.",
    "Ender 2012": "M. Ender, A. Weber, E. Ivers-Tiffée, Analysis of three-electrode setups for "
    "AC-impedance measurements on lithium-ion cells by FEM simulations, J. Electrochem. Soc. 159 "
    "(2012) A128-A136.",
}


class Citations:
    """Numbers works as they are cited."""

    def __init__(self) -> None:
        self._cited: list[str] = []

    def __call__(self, *keys: str) -> str:
        """Numbers of the works in square brackets."""
        for key in keys:
            if key not in WORKS:
                raise KeyError(key)
            if key not in self._cited:
                self._cited.append(key)
        return "[" + ", ".join(str(self._cited.index(key) + 1) for key in keys) + "]"

    @property
    def works(self) -> list[str]:
        """Works cited so far, in the order of their numbers."""
        return [WORKS[key] for key in self._cited]
