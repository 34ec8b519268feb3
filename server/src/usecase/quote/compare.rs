//! What differs between an estimate as it was answered then and one of today, and what that comes from.
//!
//! Both are read as they stand on the wire. Lists are held against each other by what their entries are called, not by their
//! place, so that a check that came in between does not make all later ones differ.

use serde_json::Value;

/// Something that went into the estimate and is another today.
#[derive(Debug, Clone, PartialEq)]
pub struct Cause {
    /// `model`, `library`, `shop`, `rate`, `price` or `input`.
    pub kind: &'static str,
    /// What it is called.
    pub name: String,
    /// Unit of the numbers; empty where there is none.
    pub unit: String,
    /// What it was.
    pub then: Value,
    /// What it is.
    pub today: Value,
}

/// A part of the estimate that is another today.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// `piece`, `check` or `price`.
    pub part: &'static str,
    /// What it is called.
    pub name: String,
    /// Its field in the estimate.
    pub field: &'static str,
    /// Unit of the numbers; empty where there is none.
    pub unit: String,
    /// What it was; null where it was not there.
    pub then: Value,
    /// What it is; null where it is no longer there.
    pub today: Value,
}

/// Holds an estimate of today against that of then.
pub fn quote_compare(then: &Value, today: &Value) -> (Vec<Cause>, Vec<Difference>) {
    (causes(then, today), differences(then, today))
}

/// The comparison in plain sentences.
pub fn quote_compare_sentence(causes: &[Cause], differences: &[Difference]) -> String {
    let count = |kind: &str| causes.iter().filter(|cause| cause.kind == kind).count();
    let mut why: Vec<String> = Vec::new();
    for (kind, one, many) in [
        ("model", "the model has another version", ""),
        ("library", "the library has another revision", ""),
        ("shop", "the shop's settings changed", "the shop's settings changed"),
        ("rate", "1 rate of the shop changed", "rates of the shop changed"),
        ("price", "1 price of the shop changed", "prices of the shop changed"),
        ("input", "1 number that goes in changed", "numbers that go in changed"),
    ] {
        match count(kind) {
            0 => {}
            1 => why.push(one.into()),
            _ if kind == "shop" => why.push(many.into()),
            n => why.push(format!("{n} {many}")),
        }
    }
    let what = match differences.len() {
        0 => "The estimate of today is the same.".to_owned(),
        1 => "The estimate of today differs in 1 field.".to_owned(),
        n => format!("The estimate of today differs in {n} fields."),
    };
    match why.as_slice() {
        [] => what,
        why => format!("{what} Since then: {}.", why.join("; ")),
    }
}

fn causes(then: &Value, today: &Value) -> Vec<Cause> {
    let mut found = Vec::new();
    let mut hold = |kind, name: &str, unit: &str, a: &Value, b: &Value| {
        if a != b {
            found.push(Cause { kind, name: name.to_owned(), unit: unit.to_owned(), then: a.clone(), today: b.clone() });
        }
    };
    hold("model", "version of the model", "", &then["model_version"], &today["model_version"]);
    hold("library", "revision of the library", "", &then["library_revision"], &today["library_revision"]);
    let (old, new) = (&then["production"]["assumptions"], &today["production"]["assumptions"]);
    hold("shop", "name of the shop", "", &old["shop"], &new["shop"]);
    hold("shop", "currency", "", &old["currency"], &new["currency"]);
    hold("shop", "heads of the machine", "", &old["heads"], &new["heads"]);
    for (a, b) in paired(&old["rates"], &new["rates"], &["field"]) {
        hold("rate", text(a, b, "name"), text(a, b, "unit"), &known(a), &known(b));
    }
    for (a, b) in paired(&old["prices"], &new["prices"], &["field"]) {
        hold("price", text(a, b, "name"), text(a, b, "unit"), &a["amount"], &b["amount"]);
    }
    for (a, b) in paired(&then["inputs"], &today["inputs"], &["pointer"]) {
        hold("input", text(a, b, "name"), text(a, b, "unit"), &known(a), &known(b));
    }
    found
}

/// A value with its interval, or nothing.
fn known(entry: &Value) -> Value {
    if entry.is_null() { Value::Null } else { serde_json::json!({"value": entry["value"], "interval_95": entry["interval_95"]}) }
}

const PIECE: [&str; 3] = ["verdict", "chance", "sentence"];
const CHECK: [&str; 6] = ["verdict", "chance", "needed", "predicted", "standard_uncertainty", "interval_95"];
const COSTING: [&str; 6] = ["unit_price", "unit_price_interval_95", "total", "total_interval_95", "machine_minutes", "labour_minutes"];
const BREAK: [&str; 4] = ["unit_price", "total", "machine_minutes", "labour_minutes"];

fn differences(then: &Value, today: &Value) -> Vec<Difference> {
    let mut found = Vec::new();
    let mut hold = |part, name: String, unit: &str, fields: &[&'static str], a: &Value, b: &Value| {
        for field in fields.iter().filter(|field| a[**field] != b[**field]) {
            let unit = if ["verdict", "chance", "sentence"].contains(field) { "" } else { unit }.to_owned();
            found.push(Difference { part, name: name.clone(), field, unit, then: a[*field].clone(), today: b[*field].clone() });
        }
    };
    hold("piece", "the piece".into(), "", &PIECE, then, today);
    for (a, b) in paired(&then["checks"], &today["checks"], &["check", "pointer"]) {
        let feature = text(a, b, "feature");
        let title = text(a, b, "title");
        let name = if feature.is_empty() { title.to_owned() } else { format!("{title}, {feature}") };
        hold("check", name, text(a, b, "unit"), &CHECK, a, b);
    }
    let (old, new) = (&then["production"], &today["production"]);
    hold("price", "currency".into(), "", &["currency"], old, new);
    for (field, name) in [("sample", "the sample"), ("series", "the series")] {
        let (a, b) = (&old[field], &new[field]);
        hold("price", name.into(), "", &COSTING, a, b);
        for (a, b) in paired(&a["lines"], &b["lines"], &["what"]) {
            hold("price", format!("{name}: {}", text(a, b, "what")), "", &["quantity", "rate", "amount"], a, b);
        }
    }
    for (a, b) in paired(&old["price_breaks"], &new["price_breaks"], &["quantity"]) {
        let quantity = if a.is_null() { &b["quantity"] } else { &a["quantity"] };
        hold("price", format!("{quantity} pieces"), "", &BREAK, a, b);
    }
    found
}

/// Entries of two lists that go by the same keys, in the order of the first list; then those that only the second has.
/// What has no partner is paired with null.
fn paired<'a>(first: &'a Value, second: &'a Value, keys: &[&str]) -> Vec<(&'a Value, &'a Value)> {
    let (first, second) = (entries(first), entries(second));
    let same = |a: &Value, b: &Value| keys.iter().all(|key| a[*key] == b[*key]);
    // Entries of one name, such as two like layers, go together in their order.
    let mut free: Vec<bool> = vec![true; second.len()];
    let mut pairs = Vec::with_capacity(first.len());
    for (k, a) in first.iter().enumerate() {
        // Nearly always it stands in the same place.
        let there = |j: &usize| free.get(*j) == Some(&true) && same(a, &second[*j]);
        let partner = Some(k).filter(there).or_else(|| (0..second.len()).find(there));
        if let Some(j) = partner {
            free[j] = false;
        }
        pairs.push((a, partner.map_or(&Value::Null, |j| &second[j])));
    }
    pairs.extend(second.iter().zip(free).filter(|(_, free)| *free).map(|(b, _)| (&Value::Null, b)));
    pairs
}

fn entries(list: &Value) -> &[Value] {
    list.as_array().map_or(&[], Vec::as_slice)
}

/// A text of the first that has it.
fn text<'a>(a: &'a Value, b: &'a Value, field: &str) -> &'a str {
    a[field].as_str().or_else(|| b[field].as_str()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn estimate() -> Value {
        json!({
            "model_version": "1", "library_revision": "r1", "verdict": "tight", "chance": 0.9, "sentence": "It is tight.",
            "checks": [
                {"check": "signal", "title": "Signal", "feature": "dimmer", "pointer": "/pads/0", "verdict": "tight", "chance": 0.9,
                 "unit": "pF", "needed": 0.3, "predicted": 0.4, "standard_uncertainty": 0.1, "interval_95": [0.2, 0.6]}
            ],
            "inputs": [{"pointer": "/temperature_c", "name": "temperature", "unit": "°C", "value": 23, "interval_95": [20, 26]}],
            "production": {
                "currency": "EUR",
                "sample": {"unit_price": "20.00", "total": "20.00", "lines": [{"what": "Thread", "amount": "1.00"}]},
                "series": {"unit_price": "10.00", "total": "100.00", "lines": []},
                "price_breaks": [{"quantity": 10, "unit_price": "10.00", "total": "100.00"}],
                "assumptions": {"shop": "S", "currency": "EUR", "heads": 4,
                    "rates": [{"field": "hooping_min", "name": "hooping", "unit": "min", "value": 2.0, "interval_95": [1, 3]}],
                    "prices": [{"field": "labour_per_h", "name": "labour", "unit": "per hour", "amount": "40.00"}]}
            }
        })
    }

    #[test]
    fn nothing_differs_from_itself() {
        assert_eq!(quote_compare(&estimate(), &estimate()), (vec![], vec![]));
    }

    #[test]
    fn every_cause_is_named_with_what_it_was_and_is() {
        let mut today = estimate();
        today["model_version"] = "2".into();
        today["library_revision"] = "r2".into();
        today["production"]["assumptions"]["rates"][0]["value"] = 3.0.into();
        today["production"]["assumptions"]["prices"][0]["amount"] = "44.00".into();
        today["inputs"][0]["value"] = 25.into();
        let (causes, differences) = quote_compare(&estimate(), &today);
        let kinds: Vec<_> = causes.iter().map(|c| (c.kind, c.name.as_str())).collect();
        let expected = [
            ("model", "version of the model"),
            ("library", "revision of the library"),
            ("rate", "hooping"),
            ("price", "labour"),
            ("input", "temperature"),
        ];
        assert_eq!(kinds, expected);
        assert_eq!((&causes[3].then, &causes[3].today), (&json!("40.00"), &json!("44.00")));
        assert_eq!(differences, []);
    }

    #[test]
    fn checks_and_prices_are_held_against_each_other_field_by_field() {
        let mut today = estimate();
        today["checks"][0]["predicted"] = 0.5.into();
        today["checks"][0]["verdict"] = "comfortable".into();
        let new =
            json!({"check": "settling", "title": "Settling", "feature": "dimmer", "pointer": "/pads/0", "verdict": "tight", "unit": "%"});
        today["checks"].as_array_mut().unwrap().insert(0, new);
        today["production"]["series"]["total"] = "110.00".into();
        today["production"]["sample"]["lines"] = json!([]);
        let (_, differences) = quote_compare(&estimate(), &today);
        let told: Vec<_> = differences.iter().map(|d| (d.part, d.name.as_str(), d.field)).collect();
        let expected = [
            ("check", "Signal, dimmer", "verdict"),
            ("check", "Signal, dimmer", "predicted"),
            ("check", "Settling, dimmer", "verdict"),
            ("price", "the sample: Thread", "amount"),
            ("price", "the series", "total"),
        ];
        assert_eq!(told, expected);
        assert_eq!((differences[1].unit.as_str(), &differences[1].then, &differences[1].today), ("pF", &json!(0.4), &json!(0.5)));
        assert_eq!((&differences[2].then, &differences[2].today), (&Value::Null, &json!("tight")));
        assert_eq!(differences[3].today, Value::Null);
    }
}
