//! What the window is drawn on.

use egui_wgpu::wgpu;

/// Format of the display's surface: levels as they are, which is how `egui` paints.
pub(super) const SURFACE: wgpu::TextureFormat = wgpu::TextureFormat::Bgra8Unorm;
