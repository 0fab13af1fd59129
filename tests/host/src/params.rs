//! Parameters as the host sees them.

use std::ffi::CString;

use clack_extensions::params::{ParamInfoBuffer, ParamInfoFlags, PluginParams};
use clack_host::events::event_types::ParamValueEvent;
use clack_host::prelude::*;

use super::{Error, Instance, Result};

/// One parameter's description.
#[derive(Clone, Debug, PartialEq)]
pub struct Parameter {
    /// Id that sessions and automation hold.
    pub id: u32,
    /// Name.
    pub name: String,
    /// Smallest value, in the host's scale.
    pub min: f64,
    /// Largest value.
    pub max: f64,
    /// Value of a fresh instance.
    pub default: f64,
    /// Whether the host may join it with its own bypass button.
    pub bypass: bool,
    /// Whether it takes whole numbers only.
    pub stepped: bool,
    /// Whether automation can be recorded.
    pub automatable: bool,
}

impl Parameter {
    /// An event that sets the parameter at the start of a block.
    #[must_use]
    pub fn event(&self, value: f64) -> ParamValueEvent {
        ParamValueEvent::new(0, ClapId::new(self.id), Pckn::match_all(), value)
    }
}

impl Instance {
    /// All parameters, in the plug-in's order.
    pub fn parameters(&mut self) -> Vec<Parameter> {
        let handle = self.plugin().plugin_handle();
        let Some(params) = handle.get_extension::<PluginParams>() else { return Vec::new() };
        (0..params.count(&handle))
            .filter_map(|index| {
                let mut buffer = ParamInfoBuffer::new();
                let info = params.get_info(&handle, index, &mut buffer)?;
                Some(Parameter {
                    id: info.id.get(),
                    name: String::from_utf8_lossy(info.name).into_owned(),
                    min: info.min_value,
                    max: info.max_value,
                    default: info.default_value,
                    bypass: info.flags.contains(ParamInfoFlags::IS_BYPASS),
                    stepped: info.flags.contains(ParamInfoFlags::IS_STEPPED),
                    automatable: info.flags.contains(ParamInfoFlags::IS_AUTOMATABLE),
                })
            })
            .collect()
    }

    /// The parameter of that name.
    ///
    /// # Errors
    /// When there is none.
    pub fn parameter(&mut self, name: &str) -> Result<Parameter> {
        let all = self.parameters();
        let names = all.iter().map(|p| p.name.as_str()).collect::<Vec<_>>().join(", ");
        let missing = Error(format!("no parameter \"{name}\": there are {names}"));
        all.into_iter().find(|p| p.name == name).ok_or(missing)
    }

    /// Current value, in the host's scale.
    pub fn value(&mut self, parameter: &Parameter) -> Option<f64> {
        let handle = self.plugin().plugin_handle();
        let params = handle.get_extension::<PluginParams>()?;
        params.get_value(&handle, ClapId::new(parameter.id))
    }

    /// A value as the plug-in words it.
    pub fn text(&mut self, parameter: &Parameter, value: f64) -> Option<String> {
        let handle = self.plugin().plugin_handle();
        let params = handle.get_extension::<PluginParams>()?;
        let mut buffer = [0; 256];
        let id = ClapId::new(parameter.id);
        let text = params.value_to_text(&handle, id, value, &mut buffer).ok()?;
        Some(String::from_utf8_lossy(text).into_owned())
    }

    /// The value that the plug-in reads in a text.
    pub fn parse(&mut self, parameter: &Parameter, text: &str) -> Option<f64> {
        let handle = self.plugin().plugin_handle();
        let params = handle.get_extension::<PluginParams>()?;
        let text = CString::new(text).ok()?;
        params.text_to_value(&handle, ClapId::new(parameter.id), &text)
    }

    /// Sets a parameter while the plug-in is not active.
    ///
    /// # Errors
    /// When the plug-in is active or has no parameters.
    pub fn set(&mut self, parameter: &Parameter, value: f64) -> Result<()> {
        let mut handle = self
            .plugin()
            .inactive_plugin_handle()
            .ok_or_else(|| Error("the plug-in is active: set it with a block".to_owned()))?;
        let params = handle
            .get_extension::<PluginParams>()
            .ok_or_else(|| Error("the plug-in has no parameters".to_owned()))?;
        let events = [parameter.event(value)];
        let mut out = EventBuffer::new();
        let (events, mut out) =
            (InputEvents::from_buffer(&events), OutputEvents::from_buffer(&mut out));
        params.flush(&mut handle, &events, &mut out);
        Ok(())
    }
}
