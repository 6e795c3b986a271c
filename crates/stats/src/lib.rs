#![doc = include_str!("../README.md")]

mod anova;
mod chi_squared;
mod cholesky;
mod error;
mod gamma_poisson;
mod gauge_study;
mod grubbs;
mod interval;
mod kaplan_meier;
mod noncentral_t;
mod normal;
mod poisson;
mod power;
mod quadrature;
mod root;
mod student_t;
mod summary;
mod t_test;
mod tolerance;

pub use anova::{OneWay, one_way};
pub use chi_squared::{chi_squared_cdf, chi_squared_quantile, gamma_cdf, gamma_quantile};
pub use cholesky::{Cholesky, SquareMatrix, dot};
pub use error::StatsError;
pub use gamma_poisson::GammaRate;
pub use gauge_study::{GaugeMethod, GaugeReading, GaugeStudy, by_anova, by_average_range};
pub use grubbs::{Grubbs, GrubbsSide, grubbs, grubbs_critical};
pub use interval::{Bounds, mean_interval, mean_interval_of, sd_interval};
pub use kaplan_meier::{KaplanMeier, Lifetime, LogRank, SurvivalStep, log_rank};
pub use noncentral_t::noncentral_t_cdf;
pub use normal::{LogNormal, normal_cdf, normal_pdf, normal_quantile};
pub use poisson::poisson_interval;
pub use power::{Sides, one_sample_n, one_sample_power, two_sample_n, two_sample_power};
pub use root::root;
pub use student_t::{student_t_cdf, student_t_quantile};
pub use summary::{Summary, quantile, summary};
pub use t_test::{TTest, one_sample, paired, pooled, pooled_of, welch, welch_of};
pub use tolerance::{
    one_sided_factor, one_sided_factor_approximate, two_sided_factor, two_sided_factor_howe,
};
