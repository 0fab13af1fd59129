//! Hostile edits of JSON.

use arbitrary::{Result, Unstructured};
use serde_json::{Map, Number, Value};

/// Makes up to four edits.
pub fn edit(value: &mut Value, u: &mut Unstructured) -> Result<()> {
    for _ in 0..u.int_in_range(1..=4)? {
        edit_once(value, u)?;
    }
    Ok(())
}

/// Goes down to some place and changes it.
fn edit_once(value: &mut Value, u: &mut Unstructured) -> Result<()> {
    let stop = u.ratio(1, 6)?;
    match value {
        Value::Object(map) if !map.is_empty() && !stop => {
            let at = u.choose_index(map.len())?;
            let Some(key) = map.keys().nth(at).cloned() else { return Ok(()) };
            if u.ratio(1, 12)? {
                change_key(map, &key, u)?;
            } else if let Some(inner) = map.get_mut(&key) {
                edit_once(inner, u)?;
            }
        }
        Value::Array(list) if !list.is_empty() && !stop => {
            let at = u.choose_index(list.len())?;
            if u.ratio(1, 4)? {
                change_list(list, at, u)?;
            } else {
                edit_once(&mut list[at], u)?;
            }
        }
        _ => *value = hostile(value, u)?,
    }
    Ok(())
}

fn change_key(map: &mut Map<String, Value>, key: &str, u: &mut Unstructured) -> Result<()> {
    let Some(inner) = map.remove(key) else { return Ok(()) };
    if u.arbitrary()? {
        let name = if u.arbitrary()? { text(u)? } else { format!("{key} ") };
        map.insert(name, inner);
    }
    Ok(())
}

fn change_list(list: &mut Vec<Value>, at: usize, u: &mut Unstructured) -> Result<()> {
    match u.int_in_range(0..=4)? {
        0 => drop(list.remove(at)),
        1 => list.insert(at, list[at].clone()),
        2 => list.truncate(at),
        3 => list.reverse(),
        // Longer than anything that we write.
        _ => {
            let item = list[at].clone();
            let more = u.int_in_range(1..=5000)?;
            list.extend(std::iter::repeat_n(item, more));
        }
    }
    Ok(())
}

/// Something to stand where `old` stood: of the same kind more often than not, or reading would
/// end at the first check.
fn hostile(old: &Value, u: &mut Unstructured) -> Result<Value> {
    if u.ratio(1, 8)? {
        return Ok(match u.int_in_range(0..=5)? {
            0 => Value::Null,
            1 => Value::Bool(u.arbitrary()?),
            2 => number(u)?,
            3 => Value::String(text(u)?),
            4 => Value::Array(Vec::new()),
            _ => Value::Object(Map::new()),
        });
    }
    Ok(match old {
        Value::Bool(on) => Value::Bool(!on),
        Value::String(_) => Value::String(text(u)?),
        Value::Number(_) | Value::Null => number(u)?,
        Value::Array(_) => Value::Array(Vec::new()),
        Value::Object(_) => Value::Object(Map::new()),
    })
}

fn number(u: &mut Unstructured) -> Result<Value> {
    const FLOATS: &[f64] = &[
        0.0,
        -0.0,
        1.0,
        -1.0,
        0.5,
        1e-300,
        5e-324,
        1e300,
        -1e300,
        f64::MAX,
        f64::MIN,
        1e18,
        1e15,
        -1e15,
        1e9,
        1e-9,
        48_000.0,
        3.5e38,
    ];
    const WHOLE: &[i64] = &[0, 1, -1, 2, 255, 65_536, i64::MAX, i64::MIN, i32::MAX as i64];
    Ok(match u.int_in_range(0..=4)? {
        0 | 1 => Number::from_f64(*u.choose(FLOATS)?).into(),
        2 => (*u.choose(WHOLE)?).into(),
        3 => u64::MAX.into(),
        _ => Number::from_f64(f64::from_bits(u.arbitrary()?)).into(),
    })
}

fn text(u: &mut Unstructured) -> Result<String> {
    const TEXTS: &[&str] = &[
        "",
        "leaking",
        "clear",
        "unknown",
        "brunt-check/1",
        "</script><b>",
        "\u{202e}\u{0}",
        "NaN",
        "\u{1f941}\u{301}\u{fe0f}",
        "/nowhere/at/all.wav",
        "limiter",
        "signal",
    ];
    Ok(match u.int_in_range(0..=3)? {
        0 => u.arbitrary::<&str>()?.to_owned(),
        1 => (*u.choose(TEXTS)?).repeat(u.int_in_range(1..=2000)?),
        _ => (*u.choose(TEXTS)?).to_owned(),
    })
}
