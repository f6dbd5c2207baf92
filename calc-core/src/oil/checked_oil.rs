//! The oil of a request together with its temperature: checked at once, with all the other fields' faults.

use validator::ValidationErrors;

use crate::error::{Error, all_faults};
use crate::units::Temperature;

use super::law::OilLaw;
use super::oil_input::OilInput;

/// The oil's law, when the fields hold and the oil can be asked at the temperature that `field` holds.
pub(crate) fn checked_oil(
    fields: Result<(), ValidationErrors>,
    oil: &OilInput,
    field: &str,
    temperature: Temperature,
) -> Result<OilLaw, Error> {
    // An oil that is wrong itself is among the fields' faults: nothing more is to be said about its temperature.
    if let Err(faults) = &fields
        && faults.errors().contains_key("oil")
    {
        return Err(Error::Invalid(faults.clone()));
    }
    let law = oil.law()?;
    // A temperature that no oil has is a fault already.
    if fields.as_ref().is_err_and(|faults| faults.errors().contains_key(field)) {
        return all_faults(fields, None).map(|()| law);
    }
    all_faults(fields, oil.temperature_fault(&law, field, temperature))?;
    Ok(law)
}
