//! Money: tax, offers, options, change orders.

#![allow(clippy::unwrap_used, reason = "a test may stop")]

use effort::Effort;
use price::{
    Deposit, Discount, FilmUse, JobNetwork, Line, LineKind, Material, OptionPrice, PriceError, Quantity,
    Refusal, Scope, ShopRules, Task, TaxBasis, TaxRule, Taxed, difference, from_gross, offer, options,
    totals,
};
use rust_decimal::Decimal;
use units::{Currency, Duration, Length, Money, Rounding, Seed, Thickness, Volume};

fn money(text: &str) -> Money {
    Money::parse(text).unwrap()
}

fn decimal(text: &str) -> Decimal {
    text.parse().unwrap()
}

fn rule(basis: TaxBasis, rounding: Rounding) -> TaxRule {
    TaxRule { basis, rounding, ..TaxRule::flat(decimal("0.20")) }
}

#[test]
fn tax_by_line_and_by_invoice_differ_as_the_rules_say() {
    // Arithmetic: three lines of 0.33 net at 20 %: by line .07 × 3 = .21, by invoice .20.
    let lines = [Taxed { net: money("0.33"), rate: decimal("0.20") }; 3];
    let tax = |basis, rounding| totals(&lines, &rule(basis, rounding), 2).tax;
    assert_eq!(tax(TaxBasis::PerLine, Rounding::HalfUp), money("0.21"));
    assert_eq!(tax(TaxBasis::PerInvoice, Rounding::HalfUp), money("0.20"));
    // HMRC VATREC12010 (VAT Guide 17.5): invoice traders may round the total down
    let odd = [Taxed { net: money("10.99"), rate: decimal("0.20") }];
    assert_eq!(totals(&odd, &rule(TaxBasis::PerInvoice, Rounding::Down), 2).tax, money("2.19"));
    assert_eq!(totals(&odd, &rule(TaxBasis::PerInvoice, Rounding::HalfUp), 2).tax, money("2.20"));
}

#[test]
fn net_is_taken_out_of_gross() {
    // Arithmetic: 120.00 at 20 % holds 20.00; 100.00 at 19 % is 84.03 net.
    let split =
        |gross: &str, rate: &str| from_gross(money(gross), decimal(rate), 2, Rounding::HalfUp).unwrap();
    assert_eq!(split("120.00", "0.20"), (money("100.00"), money("20.00")));
    assert_eq!(split("100.00", "0.19"), (money("84.03"), money("15.97")));
    assert!(from_gross(money("1"), decimal("-1"), 2, Rounding::HalfUp).is_none());
}

#[test]
fn rates_are_kept_apart() {
    let amounts = [
        Taxed { net: money("100.00"), rate: decimal("0.20") },
        Taxed { net: money("40.00"), rate: decimal("0.05") },
        Taxed { net: money("10.00"), rate: decimal("0.2") },
    ];
    let t = totals(&amounts, &rule(TaxBasis::PerInvoice, Rounding::HalfUp), 2);
    assert_eq!(t.groups.len(), 2, "0.2 and 0.20 are one rate");
    assert_eq!((t.net, t.tax, t.gross), (money("150.00"), money("24.00"), money("174.00")));
}

fn rules() -> ShopRules {
    ShopRules {
        currency: Currency::USD,
        labor_hour: money("38.00"),
        overhead_hour: money("14.50"),
        consumables_hour: money("2.25"),
        rooms: [("bay".to_owned(), money("6.00")), ("film room".to_owned(), money("11.00"))].into(),
        margin: decimal("0.28"),
        holds: 0.8,
        tax: TaxRule {
            by_kind: [(LineKind::Film, decimal("0.08"))].into(),
            ..TaxRule::flat(decimal("0.00"))
        },
        rounding: Rounding::HalfUp,
        deposit: Deposit::Share(decimal("0.30")),
        valid: Duration::days(30.0),
        draws: 2000,
        seed: Seed(4),
    }
}

fn scope(name: &str, film_hours: f64, film_meters: f64) -> Scope {
    let task = |id: &str, h: f64, s| Task::new(id, id, Duration::hours(h), s);
    let tasks = vec![
        task("wash", 2.0, 0.2).in_room("bay"),
        task("correct", 8.0, 0.3).after([0]).in_room("bay"),
        task("film", film_hours, 0.3).after([1]).in_room("film room"),
    ];
    let material = |label: &str, kind, quantity, cost: &str| Material {
        label: label.into(),
        kind,
        quantity,
        unit_cost: money(cost),
    };
    Scope {
        name: name.into(),
        network: JobNetwork { tasks, crew: Some(1), ..JobNetwork::default() },
        materials: vec![
            material(
                "Clear film, 1520 mm",
                LineKind::Film,
                Quantity::Length(Length::m(film_meters)),
                "61.40",
            ),
            material("Iron remover", LineKind::Chemical, Quantity::Volume(Volume::ml(420.0)), "17.90"),
            material("Blades", LineKind::Consumable, Quantity::Pieces(6.0), "0.35"),
        ],
        film: FilmUse { length: Length::m(film_meters), ..FilmUse::default() },
        renewals: None,
        clear_coat: Thickness::um(2.5),
        seam_in_sight: Length::ZERO,
        discount: Discount::None,
        not_attempted: vec![Refusal { what: "chip in the hood".into(), why: "down to primer".into() }],
    }
}

fn price(scope: &Scope, rules: &ShopRules) -> OptionPrice {
    offer(scope, rules, &Effort::steps(1_000_000)).unwrap()
}

fn net(lines: &[Line]) -> Money {
    lines.iter().map(|l| l.net).sum()
}

#[test]
fn lines_add_up_to_the_last_cent() {
    let (scope, rules) = (scope("Full front", 9.0, 7.35), rules());
    let p = price(&scope, &rules);
    assert_eq!(net(&p.lines), p.totals.net);
    assert_eq!(p.totals.net + p.totals.tax, p.totals.gross);
    assert_eq!(p.deposit + p.balance, p.totals.gross);
    for line in &p.lines {
        let exact = line.unit_price * line.quantity.number().unwrap();
        assert_eq!(line.net, exact.rounded(2, Rounding::HalfUp), "{}", line.label);
    }
    let film = p.lines.iter().find(|l| l.kind == LineKind::Film).unwrap();
    // 61.40 / 0.72 = 85.2778 a meter, × 7.35 = 626.79
    assert_eq!((film.unit_price, film.net), (money("85.2778"), money("626.79")));
    assert_eq!(p.totals.tax, (film.net * decimal("0.08")).rounded(2, Rounding::HalfUp), "tax on film alone");
    assert_eq!(p.not_attempted, scope.not_attempted);
}

#[test]
fn the_fixed_price_holds_as_often_as_the_rule_says() {
    let p = price(&scope("Full front", 9.0, 7.35), &rules());
    assert!((p.holds - 0.8).abs() < 0.002, "{}", p.holds);
    assert_eq!(p.totals.net, p.net_p80);
    assert!(p.net_p50 < p.net_p80);
    assert!(p.covers_costs > 0.95, "the margin is a cushion: {}", p.covers_costs);
    let reserve = p.lines.iter().find(|l| l.kind == LineKind::Reserve).unwrap();
    assert_eq!(reserve.label, "Reserve, so that the price holds in 80 of 100 cases");
    let half = price(&scope("Full front", 9.0, 7.35), &ShopRules { holds: 0.5, ..rules() });
    assert!((half.holds - 0.5).abs() < 0.02);
    // margin kept: net × (1 − margin) is the cost's quantile, so the mean cost is below it
    assert!(p.cost < (p.totals.net * decimal("0.72")));
}

#[test]
fn a_certain_job_needs_no_reserve() {
    let mut certain = scope("Certain", 9.0, 7.35);
    certain
        .network
        .tasks
        .iter_mut()
        .for_each(|t| *t = Task::new(&*t.id, &*t.kind, Duration::hours(3.0), 0.0));
    let p = price(&certain, &rules());
    assert!(p.lines.iter().all(|l| l.kind != LineKind::Reserve || l.net < money("0.05")));
    // by hand: 9 h × 54.75 / .72 = 9 × 76.0417 = 684.38; film 626.79; .42 × 24.8611 = 10.44; 6 × .4861 = 2.92
    assert_eq!(net(&p.lines[..4]), money("1324.53"));
    assert_eq!(p.holds, 1.0);
}

#[test]
fn a_discount_is_spread_so_that_each_tax_gets_its_part() {
    let mut reduced = scope("Full front", 9.0, 7.35);
    let full = price(&reduced, &rules());
    reduced.discount = Discount::Share(decimal("0.10"));
    let p = price(&reduced, &rules());
    let off: Money = p.lines.iter().map(|l| l.discount).sum();
    assert_eq!(off, (full.totals.net * decimal("0.10")).rounded(2, Rounding::HalfUp));
    assert_eq!(p.totals.net, full.totals.net - off);
    assert!(p.lines.iter().all(|l| l.net >= Money::ZERO));
    let ratio = p.totals.tax.as_estimate() / full.totals.tax.as_estimate();
    assert!((ratio - 0.9).abs() < 0.001, "{ratio}");
    reduced.discount = Discount::Amount(money("99999"));
    let error = offer(&reduced, &rules(), &Effort::steps(10_000)).unwrap_err().to_string();
    assert_eq!(error, "option 'Full front': the discount is 99999; give from nothing up to the whole price");
    reduced.discount = Discount::Amount(full.totals.net);
    assert_eq!(price(&reduced, &rules()).totals.gross, Money::ZERO);
}

#[test]
fn options_stand_side_by_side_with_the_same_luck() {
    let scopes = [scope("Front", 9.0, 7.0), scope("Front and sides", 16.0, 12.0), scope("All", 34.0, 21.0)];
    let set = options(&scopes, &rules(), &Effort::steps(1_000_000)).unwrap();
    assert_eq!(set.hint, None);
    let nets: Vec<_> = set.options.iter().map(|o| o.totals.net).collect();
    assert!(nets.is_sorted() && nets[0] < nets[2]);
    let two = options(&scopes[..2], &rules(), &Effort::steps(1_000_000)).unwrap();
    assert_eq!(
        two.hint.unwrap(),
        "Only 2 to choose from: add options, such as less coverage, other seams or a milder finish."
    );
}

#[test]
fn a_change_order_tells_time_money_clear_coat_and_date() {
    let before = scope("Front", 9.0, 7.0);
    let mut after = before.clone();
    after
        .network
        .tasks
        .push(Task::new("more correction", "correct", Duration::hours(3.0), 0.0).after([1]).in_room("bay"));
    after.clear_coat = Thickness::um(4.0);
    let (b, a) = (price(&before, &rules()), price(&after, &rules()));
    let change = difference(&b, &a, Some(Duration::hours(5.0)));
    // the added work is certain, so with common chances it is exactly three hours at every quantile
    assert!(
        (change.labor_p50.as_hours() - 3.0).abs() < 1e-9 && (change.labor_p80.as_hours() - 3.0).abs() < 1e-9
    );
    assert_eq!(change.clear_coat, Thickness::um(1.5));
    assert_eq!(change.handover, Some(Duration::hours(5.0)));
    assert_eq!(change.gross, change.net + change.tax);
    // 3 h × (38 + 14.50 + 2.25 + 6) / .72 = 253.13, but for cents of rounding on lines
    assert!((change.net.as_estimate() - 253.13).abs() < 0.05, "{}", change.net.amount());
    let sum: Money = change.lines.iter().map(|l| l.change).sum();
    assert_eq!(sum, change.net);
    assert_eq!(difference(&b, &b, None).lines, []);
}

#[test]
fn broken_prices_are_told() {
    let s = scope("Front", 9.0, 7.0);
    let wrong = |rules: ShopRules, s: &Scope| offer(s, &rules, &Effort::steps(10_000)).unwrap_err();
    let mut no_room = rules();
    no_room.rooms.clear();
    assert_eq!(wrong(no_room, &s), PriceError::NoSuchRoom("bay".into()));
    assert!(
        wrong(ShopRules { margin: decimal("1.0"), ..rules() }, &s).to_string().contains("the margin is 1")
    );
    assert!(wrong(ShopRules { holds: 1.0, ..rules() }, &s).to_string().contains("0.5 to 0.99"));
    assert!(
        wrong(ShopRules { labor_hour: money("-1"), ..rules() }, &s)
            .to_string()
            .contains("a cost per hour is -1")
    );
    assert_eq!(
        wrong(ShopRules { draws: 10, ..rules() }, &s).to_string(),
        "the simulation: the number of draws is 10; give 200 to 1 000 000"
    );
    let mut nan = s.clone();
    nan.materials[0].quantity = Quantity::Length(Length::m(f64::NAN));
    assert!(wrong(rules(), &nan).to_string().starts_with("line 'Clear film, 1520 mm': the quantity is"));
    let mut huge = s;
    huge.materials[0].unit_cost = Money::new(Decimal::MAX);
    assert!(wrong(rules(), &huge).to_string().contains("the cost of a material"));
    huge.materials[0].unit_cost = money("900000000");
    huge.materials[0].quantity = Quantity::Pieces(1e9);
    assert!(matches!(wrong(rules(), &huge), PriceError::Amount(_)));
}

#[test]
fn a_currency_without_cents_has_whole_amounts() {
    let yen = ShopRules { currency: Currency::from_code("JPY").unwrap(), ..rules() };
    let p = price(&scope("Front", 9.0, 7.0), &yen);
    assert!(p.lines.iter().all(|l| l.net.amount().fract().is_zero()));
    assert_eq!(net(&p.lines), p.totals.net);
}

#[test]
fn whatever_is_priced_adds_up() {
    // 300 made scopes: any materials, discounts, tax rules, roundings, currencies.
    let mut random = Seed(31).sequence();
    for case in 0..300 {
        let mut s = scope("made", random.between(0.0, 40.0), random.between(0.0, 30.0));
        for i in 0..random.below(6) {
            s.materials.push(Material {
                label: format!("m{i}"),
                kind: [LineKind::Chemical, LineKind::Film, LineKind::Other][random.below(3)],
                quantity: Quantity::Pieces(random.between(0.0, 5.0)),
                unit_cost: Money::cents(random.below(5000) as i64),
            });
        }
        s.discount = match random.below(3) {
            0 => Discount::None,
            1 => Discount::Share(Decimal::new(random.below(1001) as i64, 3)),
            _ => Discount::Amount(Money::cents(random.below(30_000) as i64)),
        };
        let digits = [("USD", 2), ("JPY", 0), ("KWD", 3)][random.below(3)];
        let rules = ShopRules {
            currency: Currency::from_code(digits.0).unwrap(),
            rounding: [Rounding::HalfUp, Rounding::HalfEven, Rounding::Down][random.below(3)],
            margin: Decimal::new(random.below(60) as i64, 2),
            tax: TaxRule {
                basis: [TaxBasis::PerLine, TaxBasis::PerInvoice][random.below(2)],
                standard: Decimal::new(random.below(250) as i64, 3),
                ..rules().tax
            },
            draws: 300,
            ..rules()
        };
        let p = price(&s, &rules);
        assert_eq!(net(&p.lines), p.totals.net, "case {case}");
        assert_eq!(p.totals.net + p.totals.tax, p.totals.gross);
        assert_eq!(p.totals.groups.iter().map(|g| g.net).sum::<Money>(), p.totals.net);
        assert_eq!(p.deposit + p.balance, p.totals.gross);
        for line in &p.lines {
            assert!(line.net >= Money::ZERO && line.discount >= Money::ZERO, "case {case}: {line:?}");
            assert_eq!(line.net, line.net.rounded(digits.1, Rounding::Down), "case {case}: whole cents");
        }
        assert!(p.holds >= 0.8, "case {case}: {}", p.holds);
    }
}
